// The words of places: the order in which one walks past the pots, and thermometers at the start of a round. Part of the one catalogue.

export const placeWords = {
  filein: {
    busy: 'Home is reading it', logger: 'Bring in a logger’s file',
    readings: ({ new: made, changed, unchanged, left_out: left }) => `${made} ${made === 1 ? 'day' : 'days'} new, ${changed} changed, ${unchanged} as before.${left.length ? ` Left out, too few values: ${left.map((day) => day.date).join(', ')}` : ''}`,
    back: (count, left) => `${count} taken back.${left ? ` ${left} stayed: something rests on them now.` : ''}`,
    asks: { column: 'Which column is the temperature?', time_column: 'Which column is the time?', unit: 'Celsius or Fahrenheit?', day_order: 'Its first unclear date: which day is meant?' },
  },
  trade: {
    title: 'Share and trade', note: 'The list has what is rooted, what is to be given away and what you grow; no place and no person. Passports follow the standard of genebanks.',
    'offers.pdf': 'List to share', 'passports.csv': 'Passports of your trees', bring: 'Bring in passports',
  },
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
