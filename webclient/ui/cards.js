// The collection's cards (trees, places, varieties) looked up by id, by tag and in walking order.

/**
 * @typedef {{trees: Map<string, object>, places: Map<string, object>, varieties: Map<string, object>,
 *   byTag: Map<string, object>, latest: Map<string, object>}} Cards
 */

/** Reads all cards once; `forget` makes the next call read again. */
export function createCards(records) {
  let reading = null;
  const read = async () => {
    const [trees, places, varieties, latest] = await Promise.all([
      records.list('tree'), records.list('place'), records.list('variety'), records.latestAll(),
    ]);
    return { trees: byId(trees), places: byId(places), varieties: byId(varieties), byTag: byTag(trees), latest };
  };
  return {
    /** @returns {Promise<Cards>} */
    get() {
      reading ??= read().catch((error) => { reading = null; throw error; });
      return reading;
    },
    forget() {
      reading = null;
    },
  };
}

function byId(list) {
  return new Map(list.map((record) => [record.id, record]));
}

function byTag(trees) {
  const found = new Map();
  for (const tree of trees) for (const tag of tree.fields.former_tags ?? []) found.set(tag, tree);
  for (const tree of trees) found.set(tree.fields.tag, tree);
  return found;
}

/** The place where a tree stands now, as a record; null when unknown. */
export function placeOf(cards, tree) {
  return cards.places.get(cards.latest.get(tree.id)?.place ?? tree.fields.place) ?? null;
}

/** What a tree stands in now, in litres; null when unknown. */
export function potOf(cards, tree) {
  return cards.latest.get(tree.id)?.pot_litres ?? tree.fields.pot_litres ?? null;
}

export function varietyName(cards, tree) {
  return cards.varieties.get(tree.fields.variety)?.fields.variety ?? '';
}

const natural = new Intl.Collator('en', { numeric: true, sensitivity: 'base' });

/** Trees in the order in which one walks past them: by place, there as the grower set it, the others by position and tag. */
export function walkingOrder(cards, trees) {
  const walks = new Map([...cards.places.values()].map(({ id, fields }) => [id, new Map((fields.walk ?? []).map((tree, at) => [tree, at]))]));
  const keyed = trees.map((tree) => {
    const place = placeOf(cards, tree);
    return [place?.fields.place ?? '\uffff', walks.get(place?.id)?.get(tree.id) ?? Infinity, tree.fields.position ?? '\uffff', tree];
  });
  keyed.sort((a, b) => natural.compare(a[0], b[0]) || (a[1] === b[1] ? 0 : a[1] - b[1]) || natural.compare(a[2], b[2]) || natural.compare(a[3].fields.tag, b[3].fields.tag));
  return keyed.map((entry) => entry[3]);
}

/** Options for a chooser, in the order of their names. */
export function options(records, nameField) {
  return [...records.values()]
    .map((record) => ({ value: record.id, words: record.fields[nameField] ?? '' }))
    .sort((a, b) => natural.compare(a.words, b.words));
}
