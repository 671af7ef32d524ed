-- Whether a change says all that its record holds since then, so that the record can be handed out as the log has it.
-- Empty in entries that are older than this column: nobody looked.

ALTER TABLE change_log ADD COLUMN whole BOOLEAN;
