// The words of places: the order in which one walks past the pots, and thermometers at the start of a round. Part of the one catalogue.

export const placeWords = {
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
