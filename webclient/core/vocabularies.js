/** The fixed choices of the records, each as the value that is stored and the words that a screen shows. */

/** @typedef {{value: string | number, words: string}} Choice */

/** What stands over a place. */
export const COVERS = choices({
  open: 'open', shade: 'shade', porch: 'porch', glasshouse: 'glasshouse', polytunnel: 'polytunnel',
  low_tunnel: 'low tunnel', indoors: 'indoors', ground: 'ground',
});

/** Whether a tree is on trial, kept, or given up. */
export const STANDINGS = choices({ trial: 'trial', keeper: 'keeper', retired: 'retired' });

/** Work done on a tree; `amount` is litres for pots and water, fruits for thinning. */
export const TASKS = choices({
  pot_up: 'pot up', pot_down: 'pot down', root_prune: 'prune roots', prune: 'prune', rejuvenate: 'rejuvenate',
  pinch: 'pinch', thin_breba: 'thin breba', thin_main: 'thin main crop', feed: 'feed', water: 'water', spray: 'spray',
  shelter: 'shelter', uncover: 'uncover', take_cuttings: 'take cuttings', graft: 'graft',
});

/** What a job asks for: work on a tree, or something besides. */
export const JOBS = Object.freeze([...TASKS, ...choices({
  move: 'move', look: 'look at it', reprint_tag: 'print a new tag', harvest: 'harvest', measure: 'measure',
  other: 'something else',
})]);

/** What is to become of a tree, decided at the year's end. */
export const DECISIONS = choices({
  keep: 'keep', trial_again: 'try another year', give_away: 'give away', retire: 'retire',
});

/** How young trees are made from an old one. */
export const PROPAGATIONS = choices({
  cutting: 'cuttings', layer: 'layers', graft: 'grafts', seed: 'seeds', division: 'division',
});

/** Which quantity a task's amount is; a task that is not named here takes no amount. */
export const TASK_AMOUNTS = Object.freeze({
  pot_up: 'volume', pot_down: 'volume', water: 'volume', thin_breba: 'count', thin_main: 'count',
});

/** What a grower sees as the cause of damage or fallen leaves. */
export const CAUSES = choices({
  sun: 'sun', wind: 'wind', cold: 'cold', heat: 'heat', drought: 'drought', wet: 'wet', pest: 'pest',
  disease: 'disease', handling: 'handling', age: 'age',
});

/** The crop of a harvest. */
export const FRUITS = choices({ breba: 'breba', main: 'main crop' });

/** The soil in the pot as a finger feels it. */
export const SOILS = choices({ dry: 'dry', moist: 'moist', wet: 'wet' });

/**
 * Growth stages by extended BBCH code, after Singh et al. 2023 (Folia Hort. 35:395-402) for fig;
 * 93 and 97 come from the general BBCH scale.
 */
export const STAGES = Object.freeze([
  [1, 'bud swelling'], [5, 'bud lengthening'], [7, 'bud well advanced'], [9, 'bud break'],
  [11, 'first leaf separating'], [15, 'leaves unfolding'], [17, 'most leaves unfolded'], [19, 'all leaves unfolded'],
  [31, 'shoots begin to grow'], [33, 'shoots growing'], [37, 'shoots at 70 % of length'],
  [39, 'shoots at 90 % of length'], [51, 'flower buds appear'], [53, 'flower buds swelling'],
  [55, 'flower buds lengthening'], [59, 'flower buds full'], [61, 'flowering begins'], [65, 'full flower'],
  [69, 'flowering ends'], [71, 'fruit set'], [75, 'fruit at half size'], [79, 'fruit at 70 % of size or more'],
  [81, 'ripening begins'], [85, 'ripening'], [87, 'ripe'], [89, 'over-ripe'], [93, 'leaf fall begins'], [97, 'dormant'],
].map(([value, words]) => ({ value, words })));

/**
 * The words of a stored value, or the value itself as text when the vocabulary does not hold it.
 * @param {readonly Choice[]} vocabulary
 * @param {string | number} value
 * @returns {string}
 */
export function wordsFor(vocabulary, value) {
  return vocabulary.find((choice) => choice.value === value)?.words ?? String(value);
}

/**
 * Gives choices the words of another language; what the table lacks keeps its own.
 * @param {Record<string, Record<string | number, string>>} table words by value, by the vocabulary's name
 */
export function reword(table) {
  const all = { COVERS, STANDINGS, JOBS, DECISIONS, PROPAGATIONS, CAUSES, FRUITS, SOILS, STAGES };
  for (const [name, vocabulary] of Object.entries(all)) {
    for (const choice of vocabulary) choice.words = table[name]?.[choice.value] ?? choice.words;
  }
}

/** The list is fixed, its words are not. */
function choices(table) {
  return Object.freeze(Object.entries(table).map(([value, words]) => ({ value, words })));
}
