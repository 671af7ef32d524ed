// The words of measuring leaves: in a photo, and by drawn leaves. Part of the one catalogue.

const leaves = (count) => `${count} ${count === 1 ? 'leaf' : 'leaves'}`;

export const measureWords = {
  measure: {
    title: 'The leaf in it', how: 'Home can measure a leaf beside which the pot’s tag, or better the printed card, lies flat.',
    key: 'Measure the leaf', again: 'Ask home again', asking: 'Home is measuring.', away: (reason) => `Not measured. ${reason}`,
    by: { tag: 'By the tag beside it', card: 'By the printed card' },
    counted: (count) => `${leaves(count)} counted: a line goes round the leaf, and what counts as damage is hatched.`,
    leaf: (at) => `Leaf ${at}`, figures: (area, damage) => `${area} cm², ${damage} % damaged`, together: 'All of them',
    picture: 'The leaf from above; the line and the hatching show what was counted. The figures stand below and can be typed over.',
    tool: 'Wrong? Redraw it with a finger', tools: { none: 'Look', damage: 'Damage', healthy: 'Healthy', ground: 'No leaf' },
    brush: 'Finger', brushes: { small: 'fine', large: 'broad' }, undo: 'Last stroke back', afresh: 'As home drew it',
    area: 'Area of a leaf, cm²', damage: 'Damage, %', take: 'Take these figures', taken: 'The visit has these figures now.', back: 'The visit has its former figures.',
    number: (low, high) => `Give a number between ${low} and ${high}.`,
    card: 'Print the measuring card', noTree: 'This photo belongs to no tree, so its figures cannot be noted.',
  },
  inView: {
    reading: 'Looking for a code.', seen: 'A code is in view: home can measure this leaf.',
    none: 'No code in view. To have the leaf measured, lay it flat with the tag or the card beside it, and take the photo again.',
  },
  drawn: {
    open: 'Compare with drawn leaves', title: 'Which of them looks like most of its leaves?', pattern: 'Damage looks like', patterns: { margin: 'a scorched edge', spots: 'spots' },
    percent: (percent) => `${percent} %`, alt: (percent) => `A leaf with ${percent} percent of it damaged`,
  },
};
