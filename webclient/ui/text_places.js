// The words of places: the order in which one walks past the pots, and thermometers at the start of a round. Part of the one catalogue.

export const placeWords = {
  beginning: {
    title: 'Begin with your own trees', places: 'Add the places where pots stand', placesWhy: 'a greenhouse, a porch, a row in the yard; what covers each, and whether it is heated',
    tags: 'Print blank tags', tagsWhy: 'one for each pot, on paper or bought labels', scan: 'Scan a tag on a pot', scanWhy: 'a code that no tree has yet opens a new tree, filled in from the one before',
    lists: 'Or bring a list along: leafwalk import, on the computer at home.', helper: 'No tree is here yet. The owner adds places and trees; sync, and they appear.',
    noPlace: 'A place is where pots stand together and get the same light and warmth. Trees are moved from one to another, and home learns from each what it does to them.',
  },
  walk: {
    title: 'Walking order', key: 'Set the walking order', how: 'Drag a row by its tag, use the arrows, or scan the pots in the order in which you pass them.',
    up: (code) => `${code} one earlier`, down: (code) => `${code} one later`, scan: 'Scan them in order', save: 'Keep this order', saved: 'The order is kept.',
    none: 'No tree stands here now.', scanned: (count) => `${count} scanned in order`, toList: 'To the list', away: (code) => `${code} does not stand here. Move it first.`,
  },
  thermo: {
    open: (count) => (count === 1 ? 'One thermometer is not read today' : `${count} thermometers are not read today`), how: 'Lowest and highest since the last reset; they count for today. Leave out what you did not read.',
    save: 'Save the readings', saved: (count) => (count === 1 ? 'One reading saved.' : `${count} readings saved.`), low: (place) => `${place}: lowest`, high: (place) => `${place}: highest`,
  },
};
