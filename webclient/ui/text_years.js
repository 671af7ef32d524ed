// The words of what is learned over the years: shelters compared, and the season's review. Part of the one catalogue.

const n = (count, one, many) => `${count} ${count === 1 ? one : many}`;
const trees = (count) => n(count, 'tree', 'trees');
/** `1st`, `2nd`, `3rd`, `11th` */
function ordinal(place) {
  const ending = [11, 12, 13].includes(place % 100) ? 'th' : { 1: 'st', 2: 'nd', 3: 'rd' }[place % 10] ?? 'th';
  return `${place}${ending}`;
}


export const yearWords = {
  learned: {
    title: 'Looking back', asOf: (age, day) => `From home, ${age}, with what was noted up to ${day}.`, asking: 'Asking home.',
    away: (reason) => `${reason} This is what home said last.`, nothing: (reason) => `${reason} Nothing was kept from before.`,
    unpaired: 'Home compares and reviews what was noted. Pair this phone first.',
  },

  shelters: {
    title: 'What shelters did', which: 'Variety', measure: 'What', together: (species, count) => `All ${count} ${species === 'other species' ? 'other' : species} varieties`,
    measures: {
      growth_cm: { name: 'Shoot growth', more: 'more', less: 'less', said: (amount) => `${amount} growth` },
      leaves: { name: 'Leaves', more: 'more', less: 'fewer', noun: 'leaves' },
      fruit: { name: 'Fruit', more: 'more', less: 'fewer', noun: 'fruits' },
      yield_g: { name: 'Yield', more: 'more', less: 'less' },
      days_to_ripeness: { name: 'Days to ripeness', more: 'later', less: 'earlier', said: (amount) => `ripe ${amount}` },
      days_to_ripeness_breba: { name: 'Days to ripeness, brebas', more: 'later', less: 'earlier', said: (amount) => `brebas ripe ${amount}` },
    },
    unit: { g: 'g a tree', days: 'days', leaves: 'leaves a tree', fruits: 'fruits a tree' },
    inShelter: {
      open: 'in the open', ground: 'in the ground', shade: 'in the shade', porch: 'in a porch', low_tunnel: 'in a low tunnel',
      polytunnel: 'in a polytunnel', glasshouse: 'in a glasshouse', indoors: 'indoors',
    },
    pair: (shelter, against) => `${shelter} against ${against}`, headStart: (days) => `Head start of ${days} days against none`,
    than: (where, amount, other) => `${where[0].toUpperCase()}${where.slice(1)}: ${amount} than ${other}`,
    withHeadStart: (days) => `with a head start of ${days} days`, without: 'without',
    between: (low, high) => `between ${low} and ${high}`, sides: (one, other) => `${trees(one)} against ${other}`,
    cantTell: 'Can’t tell yet', plain: (amount) => `These trees alone, not leaning on other varieties: ${amount}.`, same: 'no difference',
    sure: 'In 9 of 10 such cases the true difference lies within the band.',
    few: (least) => `Fewer than ${least} trees stand on one side.`, alike: 'The trees were all alike, so nothing shows what is chance.',
    spread: 'The band crosses nought: more or less, both would fit.',
    told: (some, all) => (all === 1 ? 'The one difference can be told.' : `${some} of ${all} differences can be told.`),
    untold: (all) => (all === 1 ? 'The one difference can’t be told yet.' : `None of ${all} differences can be told yet.`),
    reasons: {
      few: (count, least) => `${n(count, 'has', 'have')} fewer than ${least} trees on one side.`,
      spread: (count) => `In ${count} the trees differ too much among themselves.`,
      alike: (count) => `In ${count} the trees were all alike, so nothing shows what is chance.`,
    },
    alone: (variety) => `${variety} has stood under one shelter only, so there is nothing to hold it against.`,
    help: 'More trees of a variety under both shelters tell soonest; another year tells too.',
    each: 'Variety by variety', against: 'Each against another', noPair: 'Nothing of this is known of this variety yet.',
    axis: (unit) => `Difference, ${unit}`, table: (what, whose) => `${what}, ${whose}: each shelter against another`,
    columns: { pair: 'Against each other', says: 'What it changes', low: 'at least', high: 'at most', trees: 'Trees' },
    limits: 'How far to trust this',
    limit: [
      'Your trees were not given to the shelters by lot. If the stronger ones went under glass, their strength shows here as the work of the glass.',
      'A tree counts once, for the shelter in which it spent most of March to October (in the south September to April). What a year did to all trees is taken off.',
      'A head start is time awake under a warmer shelter before the tree was brought out.',
      'Varieties of one species lend each other strength, as far as they agree. A band holds the true difference in 9 of 10 cases; where many are looked at, one in ten will miss.',
      'Nothing is assumed about which shelter ought to be better.',
    ],
    empty: 'Nothing to compare yet',
    teach: [
      'Put two or more trees of one variety under each of two shelters, and leave them there for most of the growing time.',
      'Say on each place’s card what stands over it.',
      'Note shoot growth, leaves and fruit on your rounds, and weigh what you pick.',
    ],
    places: 'To the places',
  },

  season: {
    decide: (variety, count) => `What becomes of ${variety}, ${trees(count)}`, decided: (what, count) => `${what}: ${trees(count)}.`, follows: 'Jobs and tags follow from it.', paper: 'The review on paper',
    title: 'Season review', year: 'Growing year', runs: (text, over) => `${text}${over ? '' : '; not over yet'}.`,
    verdict: { keep: 'Keep', 'try again': 'Try again', 'let go': 'Let go' }, all: 'All', show: 'Show', order: 'Order',
    orders: { rank: 'best first', variety: 'by variety', shelter: 'by shelter' },
    early: 'Too early for verdicts', earlyWhy: 'Little is picked so far. The ranks lean on earlier years.',
    rank: (low, high, of) => (low === high ? `${ordinal(low)} of ${of}` : `between ${ordinal(low)} and ${ordinal(high)} of ${of}`), place: ordinal, under: (variety, shelter) => `${variety}, ${shelter}`,
    middle: 'middle', rankAxis: (species, count, of) => `${species}: ${count} seen this year${count === of ? '' : `, ranked among ${of}`}`,
    gave: (grams) => `${grams} g a tree`, gaveBetween: (low, high) => `between ${low} and ${high} g`, picked: (count) => `${trees(count)} picked`,
    quality: (grade) => `${grade} of 5`, ripe: (days) => `${days} days after waking`, each: (count) => `${count} a tree`, percent: (share) => `${share} % at its worst`,
    figure: { yield: 'Yield', quality: 'Quality', ripe: 'Ripe', troubles: 'Troubles', damage: 'Damage', care: 'Work and moves', trees: 'Trees seen' },
    why: 'Why', more: 'More', compare: (variety) => `What shelters did for ${variety}`,
    table: (species) => `${species}: ranks and verdicts`, columns: { kind: 'Variety and shelter', verdict: 'Verdict', rank: 'Rank', low: 'at best', high: 'at worst' },
    how: 'How the rank is made', weigh: 'What counts for how much',
    made: [
      'Each variety under each shelter is set against the others of its species, by all its years up to this one.',
      'The rank is uncertain because trees differ by chance: it lies between the two places in 9 of 10 cases.',
      'A verdict needs two tree-seasons with a known yield, and must be sure enough that it stands in the better or the lesser half.',
      'The trees were not given to the shelters by lot, so a rank is what you saw, not a proof.',
    ],
    counts: (name, percent) => `${name} ${percent} %`,
    weight: { yield_g: 'yield', quality: 'quality', days_to_ripeness: 'earliness', troubles: 'little trouble', care: 'little work' },
    countsAre: (parts) => `It counts ${parts.join(', ')}. These shares are a grower’s setting.`,
    empty: (year) => `Nothing was seen or picked in ${year}`,
    teach: [
      'Walk rounds: visits tell growth, trouble and when a tree woke.',
      'Weigh what you pick and judge it from 1 to 5; yield counts most.',
      'Note work and moves; they tell how much care a variety asks for.',
      'Two trees of a kind, or one in two years, are the least for a verdict.',
    ],
    round: 'To the round', none: 'None of these.',
  },

  weighing: {
    title: 'What counts for how much', how: 'No publication says what a good variety is. Give each point as many parts as it is worth to you; nought leaves it out.',
    helper: 'Home ranks varieties by these. They are changed on an owner’s phone.', share: (percent) => `That is ${percent} % of the whole.`,
  },
};
