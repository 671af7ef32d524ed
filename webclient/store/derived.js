/** Keeps what is derived from records, tag lookups and last visits, right within the transaction that changes them. */

/** How many of a tree's last visits are searched for a field that the very last one left out. */
export const VISITS_KNOWN_MAX = 8;

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
  await Promise.all([
    ...Array.from(touched.cards, (tree) => refreshTags(tx, tree)),
    ...Array.from(touched.trees, (tree) => refreshLatest(tx, tree)),
  ]);
}

async function refreshTags(tx, tree) {
  const tags = tx.objectStore('tags');
  const [row, known] = await Promise.all([tx.objectStore('tree').get(tree), tags.index('tree').getAllKeys(tree)]);
  await Promise.all(known.map((key) => tags.delete(key)));
  if (!row || row.fields.voided) return;
  const current = row.fields.tag;
  await Promise.all(formerTags(row).map((code) => tags.put({ code, tree, former: true })));
  if (current) await tags.put({ code: current, tree, former: false });
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

async function refreshLatest(tx, tree) {
  const [card, visits, move, potting] = await Promise.all([
    tx.objectStore('tree').get(tree),
    newest(tx.objectStore('observation').index('tree'), tree, VISITS_KNOWN_MAX),
    newest(tx.objectStore('move').index('tree'), tree, 1),
    newest(tx.objectStore('work').index('potting'), tree, 1),
  ]);
  if (!card && visits.length === 0) return tx.objectStore('latest').delete(tree);
  const last = visits[0] ?? null;
  return tx.objectStore('latest').put({
    tree,
    seen_at_ms: last?.at_ms ?? null,
    observation: last?.id ?? null,
    round: last?.fields.round ?? null,
    fields: last?.fields ?? {},
    known: knownValues(visits),
    place: move[0]?.fields.to_place ?? card?.fields.place ?? null,
    moved_at_ms: move[0]?.at_ms ?? null,
    pot_litres: potting[0]?.fields.amount ?? card?.fields.pot_litres ?? null,
  });
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

async function newest(index, tree, count_max) {
  const rows = [];
  let cursor = await index.openCursor(IDBKeyRange.bound([tree], [tree, []]), 'prev');
  while (cursor && rows.length < count_max) {
    rows.push(cursor.value);
    cursor = rows.length < count_max ? await cursor.continue() : null;
  }
  return rows;
}
