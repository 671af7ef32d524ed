/** Saves records and reads them back as this phone sees them. */

import { sayings } from '../core/sayings.js';
import { SYNCED_STORES } from './schema.js';
import { writeEdits } from './edits.js';
import { StoreError } from './errors.js';
import { viewOf } from './rows.js';
import { bareStore, writeAtOnce } from './transaction.js';

/** Most edits in one transaction: a barrow of many pots, with room to spare. */
export const EDITS_MAX = 500;

const OPEN_ROUNDS_SEARCHED_MAX = 50;
const FACTS_OF_TREE = ['observation', 'move', 'work', 'harvest', 'photo'];
const HISTORY_MAX = 200;

/** @returns {import('./types.js').Records} */
export function createRecords({ db, now, emit }) {
  async function saveAll(edits, { drafts = [] } = {}) {
    if (edits.length > EDITS_MAX) throw new StoreError('limit', sayings.editsMost(EDITS_MAX));
    const saved = await writeAtOnce(db, [...SYNCED_STORES, 'drafts'], (tx) => {
      for (const key of drafts) bareStore(tx, 'drafts').delete(key);
      return writeEdits(tx, edits, now());
    });
    await readBack(db, saved);
    emit('saved');
    return saved;
  }

  return {
    saveAll,
    async save(kind, record, set, { photos = [], ...beside } = {}) {
      const [saved] = await saveAll([{ kind, record, set, photos }], beside);
      return saved;
    },
    async get(kind, id) {
      const row = await db.get(kind, id);
      return row ? viewOf(kind, row) : null;
    },
    async list(kind, { voided = false } = {}) {
      const rows = await db.getAll(kind);
      const views = rows.filter((row) => voided || !row.fields.voided).map((row) => viewOf(kind, row));
      return views.sort((a, b) => (a.at_ms ?? 0) - (b.at_ms ?? 0));
    },
    treeByTag: (code) => treeByTag(db, code),
    async latest(tree) {
      return (await db.get('latest', tree)) ?? null;
    },
    async latestAll() {
      return new Map((await db.getAll('latest')).map((latest) => [latest.tree, latest]));
    },
    history: (tree, limit = HISTORY_MAX) => historyOf(db, tree, limit),
    roundOpen: () => roundOpen(db),
    async ofRound(round) {
      const read = async (kind) => viewsInOrder(kind, await db.getAllFromIndex(kind, 'round', round));
      const [observations, moves, work] = await Promise.all(['observation', 'move', 'work'].map(read));
      return { observations, moves, work };
    },
    count: (kind) => db.count(kind),
  };
}

/** "Saved" is said only of what can be read again; a change may have gone home in the meantime. */
async function readBack(db, saved) {
  const tx = db.transaction(['outbox', 'sent', 'parked']);
  const found = await Promise.all(saved.map(async ({ n, change }) => {
    const [waiting, sent, parked] = await Promise.all([
      tx.objectStore('outbox').get(n), tx.objectStore('sent').get(n), tx.objectStore('parked').get(change),
    ]);
    return waiting?.id === change || sent?.id === change || parked?.id === change;
  }));
  if (found.includes(false)) {
    throw new StoreError('broken', sayings.notReadBack);
  }
}

/** A tree that carries the code now comes before one that carried it formerly. */
async function treeByTag(db, code) {
  const tx = db.transaction(['tags', 'tree']);
  const found = await tx.objectStore('tags').index('code').getAll(code);
  found.sort((a, b) => Number(a.former) - Number(b.former));
  for (const { tree, former } of found) {
    const row = await tx.objectStore('tree').get(tree);
    if (row) return { tree: viewOf('tree', row), former };
  }
  return null;
}

async function historyOf(db, tree, limit) {
  const views = await Promise.all(FACTS_OF_TREE.map(async (kind) => {
    const found = [];
    const range = IDBKeyRange.bound([tree], [tree, []]);
    let cursor = await db.transaction(kind).store.index('tree').openCursor(range, 'prev');
    while (cursor && found.length < limit) {
      found.push(viewOf(kind, cursor.value));
      cursor = await cursor.continue();
    }
    return found;
  }));
  return views.flat().sort((a, b) => b.at_ms - a.at_ms).slice(0, limit);
}

/** Only a round that this phone began counts: the one that somebody else walks at the same time is theirs. */
async function roundOpen(db) {
  let searched = 0;
  let cursor = await db.transaction('round').store.index('at').openCursor(null, 'prev');
  while (cursor && searched < OPEN_ROUNDS_SEARCHED_MAX) {
    if (cursor.value.mine && !cursor.value.fields.finished_at) return viewOf('round', cursor.value);
    searched += 1;
    cursor = await cursor.continue();
  }
  return null;
}

function viewsInOrder(kind, rows) {
  return rows.map((row) => viewOf(kind, row)).sort((a, b) => a.at_ms - b.at_ms);
}
