-- Marked sample shoots: how many of a tree's shoots carry a ribbon, and the leaves counted on each of them at a visit.

ALTER TABLE tree ADD COLUMN marked_shoots BIGINT;

ALTER TABLE observation ADD COLUMN shoot_leaves TEXT;

CREATE INDEX observation_marked ON observation (tree, at_s) WHERE shoot_leaves IS NOT NULL;
