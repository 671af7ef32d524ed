// The words of a tree's whole life on one page. Part of the one catalogue.

export const lifeWords = {
  groups: {
    title: 'Two groups compared', how: 'Choose what is measured, how the trees are grouped, and which two groups are held against each other.',
    species: 'Species', by: 'Grouped by', kinds: { variety: 'variety', shelter: 'shelter', pot: 'size of pot', year: 'growing year', head_start: 'head start' },
    first: 'The one', second: 'The other', group: (said, count) => `${said} (${count})`, none: 'Not two groups yet of which this was measured',
    alike: 'Perhaps one and the same', dots: 'A dot for each tree, a line at the mean. What a year did to all is taken off, unless years are compared.', mean: 'Mean',
  },
  show: {
    key: 'Make a picture to show', title: 'A picture to show', how: 'Choose what others may see. Places, people and codes are not in it unless a photo shows them or you write them.',
    heading: 'Title', caption: 'What you want to say', photos: (most) => `Photos, up to ${most}`, dates: 'Dates below the photos', noPhoto: 'There is no photo to choose from yet.', plots: 'Plots and figures',
    make: 'Make the picture', making: 'The picture is being made.', made: 'The picture', alt: (title) => `The picture “${title}”`, save: 'Save it', share: 'Pass it on', file: 'leafwalk.jpg',
    failed: (reason) => `No picture could be made: ${reason} What you chose is kept.`, round: (day) => `A round on ${day}`, season: (year) => `The season of ${year}`, ranks: (species) => `Ranks of varieties: ${species}`,
  },
  life: {
    title: (code) => `${code}, its whole life`, key: 'Its whole life', years: 'Which time', all: 'All of it',
    photos: 'Two days compared', earlier: 'Left', later: 'Right', slide: 'Move the edge between the two photos', few: 'Photos of two different days can be laid over each other here. Take one with a visit now and then.',
    alt: (day) => `The tree on ${day}`, fetching: 'The photo comes from home.', open: (day) => `Open the photo of ${day}`,
    leaves: 'Leaves', shoots: 'Shoot growth', fruit: 'Fruit on the tree', health: 'Health', healthUnit: 'of 100', fruitUnit: 'fruit', marks: 'Thin lines mark moves and work.',
    nothing: 'Nothing was counted in this time.', asking: 'Health and companions come from home.', away: (reason) => `${reason} Health and companions are missing.`,
    among: 'Among its companions', who: (count, place) => (place ? `Held against ${count} trees of its kind in ${place}.` : `Held against all ${count} trees of its kind.`), alone: 'Too few trees of its kind were counted lately to hold it against.',
    measure: { health: 'Health', leaves: 'Leaves', change_percent_per_week: 'Leaves, percent a week', shoot_cm: 'Shoot growth' },
    rank: (place, of, value, middle) => `${value}: ${place} of ${of}; the middle tree ${middle}`,
    stood: 'Places, pots and tags', pot: (size) => `pot of ${size}`, tagged: 'Tags', from: (day) => `from ${day}`, start: 'from the start',
  },
};
