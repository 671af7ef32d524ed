/** Keeps what is derived from records, tag lookups and last visits, right within the transaction that changes them. */

import { answerOf, bareStore } from './transaction.js';

/** How many of a tree's last visits are searched for a field that the very last one left out. */
export const VISITS_KNOWN_MAX = 8;

/** The setting that lists the trees whose last visits are owed. */
export const OWED_KEY = 'latest_owed';
const NOT_KNOWN = ['tree', 'round', 'seen_at', 'note', 'voided'];

/**
 * Collects which trees a transaction touches, so that each is brought up to date once, at its end.
 * @returns {{trees: Set<string>, cards: Set<string>}}
 */
export function nothingTouched() {
  return { trees: new Set(), cards: new Set() };
}

/** Notes what a row that is written, or was written before, means for trees. */
export function touch(touched, kind, row) {
  if (!row) return;
  if (kind === 'tree') {
    touched.cards.add(row.id);
    touched.trees.add(row.id);
  } else if (['observation', 'move', 'work'].includes(kind) && row.tree) {
    touched.trees.add(row.tree);
  }
}

/** Brings tag lookups and last visits of all touched trees up to date. */
export async function refreshTouched(tx, touched) {
  await Promise.all([refreshTags(tx, touched.cards), refreshLatest(tx, touched.trees)]);
}

/**
 * Brings the tag lookups of trees up to date.
 * @param {import('idb').IDBPTransaction} tx
 * @param {Iterable<string>} trees
 */
export async function refreshTags(tx, trees) {
  const [cards, tags] = [bareStore(tx, 'tree'), bareStore(tx, 'tags')];
  await Promise.all(Array.from(trees, async (tree) => {
    const [row, known] = await Promise.all([
      answerOf(cards.get(tree)), answerOf(tags.index('tree').getAllKeys(tree)),
    ]);
    known.forEach((key) => tags.delete(key));
    if (!row || row.fields.voided) return;
    const current = row.fields.tag;
    formerTags(row).forEach((code) => tags.put({ code, tree, former: true }));
    if (current) tags.put({ code: current, tree, former: false });
  }));
}

/** Home names the former tags; one that this phone has just replaced is former too, although home does not know yet. */
function formerTags(row) {
  const codes = new Set(row.fields.former_tags ?? []);
  if (row.own) {
    if (row.base?.tag) codes.add(row.base.tag);
    for (const { set } of row.own) if (set.tag) codes.add(set.tag);
  }
  codes.delete(row.fields.tag);
  return [...codes];
}

/**
 * Brings the last visits of trees up to date.
 * @param {import('idb').IDBPTransaction} tx
 * @param {Iterable<string>} trees
 */
async function refreshLatest(tx, trees) {
  const [cards, observations, moves, work, latest] = ['tree', 'observation', 'move', 'work', 'latest']
    .map((name) => bareStore(tx, name));
  await Promise.all(Array.from(trees, async (tree) => {
    const [card, visits, [move], [potting]] = await Promise.all([
      answerOf(cards.get(tree)), newest(observations, 'tree', tree, VISITS_KNOWN_MAX), newest(moves, 'tree', tree, 1),
      newest(work, 'potting', tree, 1),
    ]);
    if (card || visits.length > 0) latest.put(latestOf(tree, card, visits, move, potting));
    else latest.delete(tree);
  }));
}

/**
 * Leaves last visits to be brought up to date once the pull that touched them is over or broken off; a list on disk
 * keeps them from being forgotten.
 * @param {import('idb').IDBPTransaction} tx
 * @param {Set<string>} trees
 */
export async function oweLatest(tx, trees) {
  const settings = bareStore(tx, 'settings');
  const owed = new Set(await answerOf(settings.get(OWED_KEY)));
  const known_count = owed.size;
  trees.forEach((tree) => owed.add(tree));
  if (owed.size > known_count) settings.put([...owed], OWED_KEY);
}

/**
 * Brings last visits that are owed up to date.
 * @param {import('idb').IDBPTransaction} tx
 * @returns {Promise<number>} how many were owed
 */
export async function settleLatest(tx) {
  const settings = bareStore(tx, 'settings');
  const owed = (await answerOf(settings.get(OWED_KEY))) ?? [];
  if (owed.length > 0) {
    await refreshLatest(tx, owed);
    settings.delete(OWED_KEY);
  }
  return owed.length;
}

/** @returns {import('./types.js').Latest} */
function latestOf(tree, card, visits, move, potting) {
  // What was seen on a branch or a side is not the tree's.
  const whole = visits.filter((visit) => !visit.fields.part);
  const last = whole[0] ?? null;
  return {
    tree,
    seen_at_ms: last?.at_ms ?? null,
    observation: last?.id ?? null,
    round: last?.fields.round ?? null,
    fields: last?.fields ?? {},
    known: knownValues(whole),
    place: move?.fields.to_place ?? card?.fields.place ?? null,
    moved_at_ms: move?.at_ms ?? null,
    pot_litres: potting?.fields.amount ?? card?.fields.pot_litres ?? null,
  };
}

function knownValues(visits) {
  const known = {};
  for (const visit of visits) {
    for (const [field, value] of Object.entries(visit.fields)) {
      if (!(field in known) && !NOT_KNOWN.includes(field)) known[field] = { value, at_ms: visit.at_ms };
    }
  }
  return known;
}

/** The last so many rows of a tree, newest first, without reading its whole past. */
async function newest(rows, index, tree, count_max) {
  const query = IDBKeyRange.bound([tree], [tree, []]);
  // Browsers that know `getAllRecords` read backwards in one go; the others first give keys, in order of time.
  if ('getAllRecords' in IDBIndex.prototype) {
    return answerOf(rows.index(index).getAll({ query, direction: 'prev', count: count_max }));
  }
  const keys = await answerOf(rows.index(index).getAllKeys(query));
  return Promise.all(keys.slice(-count_max).reverse().map((key) => answerOf(rows.get(key))));
}
