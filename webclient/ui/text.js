// Every word and sentence of the screens, in English, in one place; those of looking back stand in text_years.js.
import { jobFields, jobKinds, jobWords } from './text_jobs.js';
import { lifeWords } from './text_life.js';
import { measureWords } from './text_measure.js';
import { placeWords } from './text_places.js';
import { springWords } from './text_spring.js';
import { yearWords } from './text_years.js';

const n = (count, one, many) => `${count} ${count === 1 ? one : many}`;
const trees = (count) => n(count, 'tree', 'trees');
const pots = (count) => n(count, 'pot', 'pots');
const entries = (count) => n(count, 'entry', 'entries');
const leaves = (count) => n(count, 'leaf', 'leaves');
/** What is not home, in short: entries, else the photos that are left of them, and what home refused. */
const notHome = ({ unsent, photos_waiting: photos, parked, photos_refused }, held, none) => [
  unsent ? `${held(unsent)} unsent` : photos && `${n(photos, 'photo', 'photos')} unsent`,
  parked + photos_refused && `${parked + photos_refused} refused`].filter(Boolean).join(', ') || none;
const spaced = (code) => `${code.slice(0, 3)} ${code.slice(3)}`;

export const words = {
  strip: 'Leafwalk',
  back: 'Back',
  close: 'Close',
  save: 'Save',
  saved: 'Saved.',
  undo: 'Undo',
  undone: 'Taken back.',
  more: (count) => `Show more (${count} left)`,

  screens: {
    now: 'Now', round: 'Round', barrow: 'Barrow', trees: 'Trees', places: 'Places', pocket: 'Pocket', settings: 'Settings',
    index: 'Index', scan: 'Scan', jobs: jobWords.job.title, shelters: yearWords.shelters.title, season: yearWords.season.title, groups: lifeWords.groups.title,
  },
  ...yearWords,
  ...springWords,
  ...measureWords,
  ...jobWords,
  ...lifeWords,
  ...placeWords,

  age: {
    now: () => 'just now',
    minute: (count) => `${count} min ago`,
    hour: (count) => `${count} h ago`,
    day: (count) => `${n(count, 'day', 'days')} ago`,
    week: (count) => `${n(count, 'week', 'weeks')} ago`,
    month: (count) => `${n(count, 'month', 'months')} ago`,
    year: (count) => `${n(count, 'year', 'years')} ago`,
  },

  level: { act: 'Act', watch: 'Watch' },
  role: { owner: 'owner', helper: 'helper' },
  kind: {
    variety: 'Variety', place: 'Place', tree: 'Tree', round: 'Round', observation: 'Visit', move: 'Move', work: 'Work',
    reading: 'Thermometer', harvest: 'Harvest', photo: 'Photo', ...jobKinds,
  },

  field: {
    variety: 'Variety', species: 'Species', note: 'Note', place: 'Place', cover: 'Shelter', light_percent: 'Light let through, %',
    heated: 'Heated', latitude: 'Latitude, °', tag: 'Tag', pot_litres: 'Pot', source: 'Where it came from', started_on: 'Here since',
    standing: 'Standing', position: 'Position in the walk', started_at: 'Started', finished_at: 'Finished', seen_at: 'Seen at',
    shoots: 'Growing shoots', leaves_per_shoot: 'Leaves a shoot', leaves: 'All leaves, if counted', leaves_fallen: 'Leaves fallen',
    shoot_cm: 'Shoot growth', fruit_breba: 'Breba fruit', fruit_main: 'Main-crop fruit', damage_percent: 'Damage, %',
    causes: 'Cause of damage or fall', bbch: 'Stage', soil: 'Soil in the pot',
    marked_shoots: 'Marked shoots, counted each round', shoot_leaves: 'Leaves on each marked shoot', leaf_cm2: 'Area of a leaf, cm²', tree: 'Tree', moved_at: 'Moved at', to_place: 'To which place',
    task: 'What was done', amount: 'How much, litres or fruits', done_at: 'Done at', date: 'Day', t_min_c: 'Lowest', t_max_c: 'Highest',
    picked_at: 'Picked at', fruit: 'Which crop', weight_g: 'Weight, g', quality: 'Quality, 1 to 5', sha256: 'Photo', taken_at: 'Taken at', ...jobFields,
  },

  form: {
    none: 'not recorded', yes: 'yes', no: 'no',
    number: 'Write a number here, such as 12 or 4.5.',
    between: (low, high) => `Give a value between ${low} and ${high}.`,
  },

  count: { more: (label) => `${label}: one step more`, less: (label) => `${label}: one step less` },

  code: {
    empty: 'Write the six characters that stand on the tag.',
    form: 'A tag has six characters, such as 4KD 7QH. Read it again.',
    check: 'These six characters do not belong together: one was misread. Look at the tag again, and take care with 8 and B, 5 and S, 2 and Z.',
  },

  error: {
    title: 'Something went wrong',
    screen: 'This screen could not be opened.',
    notSaved: (reason) => `Not saved. ${reason}`,
  },
  lost: { title: 'No such screen', text: 'This address leads nowhere. Use the index below.', tag: 'Tag' },

  notice: {
    label: 'Notice',
    revoked: 'Home has shut this phone out. All entries stay on it; pair it again to send them.',
    update: 'A new version of Leafwalk is ready.',
    use: 'Use it now',
    closed: 'Leafwalk was opened anew in another window, so this one has stopped.',
    lost: 'The browser has cleared Leafwalk’s storage. What was not home may be lost.',
    reload: 'Load again',
  },

  pocketLine: {
    held: (pocket) => notHome(pocket, String, 'All home'),
    oldest: (age) => (age === 'just now' ? age : `oldest ${age.replace(' ago', '')}`),
    never: 'never synced',
  },
  phase: {
    unpaired: 'This phone is not paired yet. Entries wait here until it is.',
    idle: 'Home has been reached.',
    syncing: 'Sending and fetching.',
    offline: 'Home cannot be reached just now. Entries wait here and go by themselves later.',
    busy: 'Home asks to wait a little. It is tried again by itself.',
    revoked: 'Home has shut this phone out. Everything stays here until the phone is paired again.',
    trouble: 'The last try to reach home failed.',
  },

  pair: {
    title: 'Pair this phone', this: 'This phone and home', again: 'Pair again', key: 'Pair', busy: 'Pairing', fetched: (count) => `${count} records fetched from home.`,
    how: 'On the computer at home, run leafwalk pair. It shows a code for a quarter of an hour. Write it here, or scan its square.',
    code: 'Pairing code', name: 'What to call this phone', scan: 'Scan the square',
    nameOf: (agent) => (/iPhone/.test(agent) ? 'iPhone' : /iPad/.test(agent) ? 'iPad' : /Android/.test(agent) ? 'Android phone' : 'Computer'),
    done: (collection) => (collection ? `Paired with ${collection}.` : 'Paired.'),
    already: (collection, role) => `Paired with ${collection || 'home'} as ${role}. A new code pairs it anew; entries stay.`,
    revoked: (unsent) => `Home has shut this phone out. ${unsent === 1 ? 'One unsent entry stays' : `${unsent} unsent entries stay`} here and will be sent after pairing.`,
    end: 'Unpair this phone', endSure: 'Yes, unpair it', ended: 'Unpaired. What this phone holds stays on it.',
    endHow: 'Unpaired, this phone sends and fetches nothing more. What it holds stays on it, unsent entries too, until it is paired anew.',
    installFirst: 'Do this before pairing: what is entered in the browser page does not follow to the home screen.',
  },
  install: {
    title: 'Put Leafwalk on the home screen',
    key: 'Install',
    prompt: 'Then it opens without a network, and the browser keeps its entries.',
    'share-menu': 'Tap the share sign of the browser, then “Add to Home Screen”. Open Leafwalk from there from now on.',
    'browser-menu': 'Open the browser’s menu and choose to install or to add to the home screen. Then it opens without a network.',
  },

  scan: {
    errand: {
      open: { title: 'Scan a tag', label: 'Or write the code', placeholder: 'ABC DEF', open: 'Open' },
      barrow: { title: 'Load the barrow', label: 'Or write the code', placeholder: 'ABC DEF', open: 'Load' },
      retag: { title: 'Scan the new tag', label: 'Or write the new code', placeholder: 'ABC DEF', open: 'Use' },
      walk: { title: 'Scan them in order', label: 'Or write the code', placeholder: 'ABC DEF', open: 'Next' },
      pair: { title: 'Scan the pairing square', label: 'Or write the pairing code', placeholder: '', open: 'Use' },
    },
    camera: {
      denied: 'The camera is not allowed here. Allow it in the browser’s settings for this site, or write the code below.',
      missing: 'No camera was found. Write the code below.',
      taken: 'Another program is using the camera. Close it, or write the code below.',
      insecure: 'The camera works only on a secure page (https). Write the code below.',
      broken: 'The camera did not start. Write the code below, or choose a photo of the tag.',
    },
    video: 'Camera picture',
    starting: 'The camera is starting',
    torch: 'Torch',
    photo: 'Photo of a tag',
    reading: 'Reading the photo.',
    noCode: 'No code was found in this photo. Take it closer and sharper, or write the code.',
    justDone: (code) => `${code} is done. Scan the next tag.`,
    unknown: (code) => `No tree has the tag ${code} yet.`,
    unknownHelper: (code) => `No tree has the tag ${code} yet. Adding trees is for an owner’s phone.`,
    already: (code) => `${code} is on the barrow already.`,
    loaded: (code) => `${code} loaded.`,
    barrowFull: (count) => `The barrow holds ${count} pots at most. Move these first.`,
    onBarrow: (count) => `${pots(count)} on the barrow`,
    toBarrow: (count) => `Go on with ${pots(count)}`,
    retag: (code) => `The tag scanned next replaces ${code}. The old code still finds the tree.`,
    taken: (code) => `${code} already belongs to a tree. Use another tag.`,
    retagged: (code) => `The tree now has the tag ${code}.`,
  },

  newTree: {
    title: 'New tree on this tag', heading: (code) => `New tree on tag ${spaced(code)}`,
    takenOver: 'Filled in from the tree entered before.',
    newVariety: 'new variety, written below', newPlace: 'new place, written below',
    replace: 'It replaces a tree’s old tag', save: 'Save the tree',
    saved: (code) => `${code} saved.`,
    helper: 'No tree has this tag yet. Adding trees is for an owner’s phone.',
  },

  tree: {
    title: (code) => `Tree ${spaced(code)}`, noVariety: 'variety not recorded', missingTitle: 'No such tree',
    missing: 'This tree is not on this phone. Sync, or scan its tag again.',
    position: (position) => `no. ${position}`, lastSeen: (age) => `Last visit ${age}`, neverSeen: 'Not visited yet', unseen: 'not yet',
    deeds: 'What else to do with this tree', history: 'What happened', noHistory: 'Nothing is recorded yet.', allHistory: 'All of it',
    about: 'About', since: (day) => `here since ${day}`, former: 'Former tags:',
  },
  deed: { move: 'Move', work: 'Work', harvest: 'Harvest', edit: 'Edit card', retag: 'New tag', out: springWords.out.title },

  visit: {
    partOnly: 'Only a branch or a side', partHow: 'What is noted then speaks for that part, and is left out of what is reckoned for the whole tree.', form: 'Visit', last: (value) => `last ${value}`, lastOn: (value, day) => `${value} on ${day}`, noLast: 'not yet counted',
    asLast: 'Nothing fallen, as last time', nothingFallen: 'Nothing fallen', fill: 'Rest as last time',
    saved: (code) => `${spaced(code)} saved.`, undone: 'The visit was taken back.',
    clear: 'Empty this form', clearSure: 'Yes, empty it',
    short: (name, value) => (SHORT[name] ? SHORT[name](value) : value),
  },
  marked: {
    legend: 'Leaves on the marked shoots', mean: (value) => `mean ${value},`, shoot: (at) => `Marked shoot ${at}`, next: 'Next',
    countAll: 'Count all growing shoots once too, so that the marked ones can speak for the tree.',
  },
  photo: {
    legend: 'Photos', take: 'Take a photo', alt: (at) => `Photo ${at} of this visit`, remove: (at) => `Leave out photo ${at}`,
    full: (most) => `${most} photos are the most for one visit.`, title: 'Photo', ofTree: 'Photo of this tree', gone: 'This photo is not on this phone.',
    fetching: 'Fetching it from home.', away: (reason) => `The photo is at home. ${reason}`,
  },

  history: {
    title: (code) => `What happened to ${code}`, looked: 'looked at', moved: (place) => `to ${place}`, somewhere: 'a place not on this phone', photo: 'taken',
    fruits: (count) => `${count} fruit`, grams: (weight) => `${weight} g`, quality: (grade) => `quality ${grade} of 5`, unsent: 'unsent',
    by: (phone) => `noted on ${phone}`, correct: 'Correct', look: 'Look', withdraw: 'Take back', withdrawSure: 'Yes, take it back', withdrawn: 'The entry was taken back.', more: 'Show older',
  },

  chart: {
    day: 'Day', leaves: 'leaves', leavesName: 'Leaves on the tree', value: (value, unit, day) => `${value} ${unit} on ${day}.`,
    mark: (what, day) => `Dashed: ${what}, ${day}.`,
    expected: (low, high) => `Between ${low} and ${high} expected.`, expectedName: 'expected', range: (low, high) => `${low} to ${high}`,
  },

  finding: {
    label: 'Finding', since: (day) => `since ${day}`, night: (day) => `in the night of ${day}`, which: (count) => `Which ${trees(count)}`, likely: (cause) => `Likely ${CAUSE[cause] ?? cause}.`, others: (count) => (count === 1 ? 'One other cause' : `${count} other causes`),
    advice: 'To do:', open: 'Open the card',
    kind: {
      leaf_drop: 'Losing leaves', overloaded: 'Too much fruit for its leaves', behind: 'Behind the season', cold: 'Cold ahead',
      too_much_light: 'Too big a step in light', unvisited: 'Long unvisited',
    },
    cause: (cause) => sentence(CAUSE[cause] ?? cause),
  },
  trend: {
    leaves: (low, high) => (low === high ? `About ${low} leaves now.` : `Between ${low} and ${high} leaves now.`),
    rising: (low, high) => `Growing by ${span(low, high)} % a week.`, falling: (low, high) => `Falling by ${span(-high, -low)} % a week.`,
    steady: (low, high) => `Steady: ${signed(low)} to ${signed(high)} % a week.`,
    unknown: 'Counted too seldom or too roughly to say whether its leaves grow or fall.',
  },
  health: {
    title: 'Health', ofHundred: 'of 100', parts: 'Its parts', of: (score) => `${score} of 100`, counts: (percent) => `counts for ${percent} %`,
    part: { 'leaves kept': 'Leaves kept', growth: 'Growth', damage: 'Free of damage', 'crop burden': 'Crop burden' },
  },
  crop: {
    title: 'Fruit and leaves', notKnown: 'not enough counted', why: 'Why', whatToCount: 'What to count',
    leavesEach: (low, high) => (low === high ? `about ${leavesFor(low)} each` : `${low} to ${leavesFor(high)} each`),
    take: {
      breba: (count, low, high) => `${n(count, 'breba', 'brebas')}${within(low, high)}`,
      main: (count, low, high) => `${n(count, 'main fruit', 'main fruits')}${within(low, high)}`,
    },
    takeOff: (parts) => `Take off ${parts.join(', then ')}, the smallest first.`,
    countAgain: 'Count its leaves and fruit again within a week before you take any off.',
  },
  now: {
    places: 'Shared by a whole place', figure: (act, watch) => [act && `${trees(act)} to act on`, watch && (act ? `${watch} to watch` : `${trees(watch)} to watch`)].filter(Boolean).join(', '),
    calmFigure: 'Nothing needs you',
    calm: (count) => `Home looked at ${trees(count)} and found nothing to act on or to watch.`,
    asOf: (age) => `From home, ${age}.`, notYet: 'Nothing has come from home yet. Findings appear here after the first sync.',
    unpaired: 'Findings come from home. Pair this phone first.', roundOn: 'A round is going on',
  },

  round: {
    choose: 'Choose the places to walk; none chosen means all of them.',
    start: (count) => `Start the round in ${n(count, 'place', 'places')}`, startAll: 'Start the round',
    seen: (done, all) => `${done} of ${all} seen`, since: (when) => `Started ${when}.`, skipped: (count) => `${count} skipped.`,
    next: 'Next in the walk', then: (count) => `Then ${count} more`, open: 'Open', skip: 'Skip', allSeen: 'Everyone in this round was seen or skipped.',
    finish: 'Finish the round', finishSure: 'Yes, finish', finishLeft: (count) => `Finish with ${count} unseen`, finished: 'Round finished.',
  },
  roundDone: {
    title: 'The round', missing: 'This round is not on this phone.', seen: (count) => `${trees(count)} seen`,
    fell: (count) => `${leaves(count)} fell.`, noneFell: 'No leaf fell.', moves: (count) => (count ? `${n(count, 'move', 'moves')}.` : ''),
    work: (task, count) => `${task}: ${count}.`, unseen: (count) => `${trees(count)} not seen.`, unseenList: (count) => `Not seen (${count})`,
    changes: 'What changed', fallen: (count) => `${leaves(count)} fell`, step: (label, before, after) => `${label.toLowerCase()} ${before} → ${after}`,
  },

  barrow: {
    none: 'Scan pots one after the other; then move them, or note a piece of work, for all at once.',
    scan: 'Scan pots', more: 'Scan more', move: 'Move', work: 'Work', empty: 'Empty the barrow',
    emptySure: (count) => `Yes, take off ${pots(count)}`, remove: (code) => `Take ${spaced(code)} off`,
  },
  carry: {
    title: { move: 'Move', work: 'Work', harvest: 'Harvest' }, none: 'No tree is chosen. Scan some first.',
    trees, standsIn: (place) => `Stands in ${place}.`, otherTime: 'It was at another time',
    litres: (unit) => `How much (${unit})`, fruits: 'How many fruits',
    save: { move: (count) => `Move ${pots(count)}`, work: (count) => `Note for ${trees(count)}`, harvest: () => 'Save the harvest' },
    saved: { move: (count) => `${pots(count)} moved.`, work: (count) => `Noted for ${trees(count)}.`, harvest: () => 'Harvest saved.' },
  },

  light: {
    title: 'Too big a step in light', some: (count, all) => `for ${count} of ${all}`, first: (place) => `${place} first`,
    gain: (ratio, before, after) => `It would get ${lightGain(ratio)}: ${after} instead of ${before} mol/m² a day.`,
    shaded: 'It stood shaded, and shade leaves burn first.',
    lately: 'It was moved within the last two weeks; two moves in quick succession are worse than one.',
    noWind: 'It has known no wind since it went under cover.',
    advice: {
      act: 'Harden it off first, with an hour or two of morning sun and a little more each day.',
      watch: 'Choose a dull day, and shade it at midday for a week.',
    },
    anyway: (label) => `${label} all the same`,
  },

  caution: {
    lifting: 'A watered pot weighs far more than a dry one. Lift with your legs, use a barrow or a second pair of hands, and count 23 kg (51 lb) as too much unless all is ideal.',
    prune: 'Sap and sunlight together can blister skin hours later. Cover arms and hands, wash sap off, and stay out of the sun with it.',
    spray: 'The label of the product and the local rules decide: dose, protection, waiting time, weather. Follow them.',
    shelter: 'Never burn fuel to heat an airtight space: it makes carbon monoxide. Let air in and use an alarm.',
    heater: 'If a fuel heater runs here: never in an airtight space. It makes carbon monoxide; let air in and use an alarm.',
  },

  trees: {
    count: trees, find: 'Find by code, variety or place', grown: 'Trial and keeper', all: 'All',
    pick: (code) => `Which tree gets ${code}?`, pickHint: (code) => `Tap the tree that now carries the tag ${code}.`,
  },
  place: {
    none: 'No place is recorded yet.', add: 'Add a place', light: (percent) => `${percent} % light`, heated: 'heated',
    thermometer: 'Thermometer', saveReading: 'Save the reading', readingSaved: (day) => `Reading of ${day} saved.`,
    glance: { title: 'Light and cold', light: 'Light', lets: 'of that outside', lowest: 'Lowest of the last week', ahead: 'Lowest ahead', frost: 'frost', frosts: 'Nights of frost', of: (count) => `of ${n(count, 'night', 'nights')} read in twelve months` },
  },
  heat: {
    title: 'Heat and chill', none: 'Too few readings so far to say.',
    degreeDays: (unit) => `Degree-days, °${unit}`, chillHours: (unit) => `Hours below ${unit === 'F' ? '45 °F' : '7.2 °C'}`, chillUnits: 'Chill units, at their most',
    water: 'Water that the air took', week: 'from open grass, in seven days',
    rests: (days, filled, missing) => [`Over ${n(days, 'day', 'days')}.`, filled && `${filled} of them filled in from the places or days around.`,
      missing && `${n(missing, 'day is', 'days are')} missing.`].filter(Boolean).join(' '),
  },
  species: {
    title: 'What a species needs', how: 'Home computes with these. Change one where you know better; yours then counts for every tree of the species.',
    helper: 'Home computes with these. They are changed on an owner’s phone.', name: (text) => `${text[0].toUpperCase()}${text.slice(1)}`,
    own: 'Your own figure.', setting: 'A grower’s setting: no publication gives it.', source: (text) => `Source: ${text}.`.replace(/\.\.$/, '.'),
    range: (low, high) => `Seen from ${low} to ${high}.`, back: (text) => (text ? `Back to ${text}` : 'Back to none'),
  },
  variety: { title: 'Varieties', none: 'No variety is recorded yet.', add: 'Add a variety' },
  edit: {
    title: (name) => `Edit ${name}`, fact: (kind, when) => `${kind.toLowerCase()}, ${when}`, helper: 'Cards are edited on an owner’s phone. You can still note visits, moves and work.',
    placeHint: 'Place and pot are those that the tree began with. Note later moves and pottings as such.',
  },

  pocket: {
    unsent: (pocket) => notHome(pocket, entries, 'Pocket empty'), oldest: (age) => `The oldest was made ${age}.`,
    photos: (count) => `${n(count, 'photo waits', 'photos wait')} to be sent.`, contact: (when) => `Last contact ${when}.`, next: (when) => `Next try ${when}.`,
    pairedAs: (collection, role) => `Paired with ${collection || 'home'} as ${role}.`,
    refused: (count) => `${entries(count)} refused by home`, refusedHint: 'Nothing is lost. Mend each one, or discard it.', mend: 'Mend',
    list: 'On this phone only', empty: 'Every entry has reached home.', further: (count) => `And ${count} more.`, withdrawn: (kind) => `${kind} taken back`,
    keep: 'Keeping it safe', syncNow: 'Sync now', export: 'Save as a file',
    exported: (left_out) => `The file holds all that is not home yet${left_out ? ` except ${n(left_out, 'photo', 'photos')} that it has no room for, still on this phone alone` : ''}. At home: leafwalk import FILE`,
    storage: (persisted) => (persisted ? 'The browser has promised to keep these entries.' : persisted === false
      ? 'The browser may clear entries when the phone runs out of room.' : 'This browser does not say whether it keeps entries.'),
    room: (used, free) => `${used} MB used${free === null ? '' : `, ${free} MB free`}.`, askKeep: 'Ask the browser to keep them', asked: 'The browser was asked.',
  },
  mend: {
    title: 'Mend an entry', gone: 'This entry has been dealt with.', again: 'Send again', photoAgain: 'Send the photo again', done: 'It goes home with the next sync.',
    discard: 'Discard it', discardSure: 'Yes, discard for good', discardHint: 'If it was a mistake from the start, it can be discarded. That cannot be taken back.',
    discarded: 'The entry was discarded.',
  },

  settings: { length: 'Length', volume: 'Pots and water', temperature: 'Temperature', theme: 'Light or dark', language: 'Language' },
  unit: { cm: 'cm', in: 'in', l: 'litres', gal: 'gallons', C: '°C', F: '°F' },
  theme: { auto: 'As the phone', light: 'Light', dark: 'Dark' },
  home: {
    title: 'Collection and phones', collection: 'Name of the collection', invite: 'Let another phone in', role: 'It may act as',
    roleHint: 'A helper records visits, moves and work. An owner also edits cards and lets phones in or out.',
    makeCode: 'Make a pairing code', until: (when) => `Holds until ${when}, for one phone.`, phones: 'Phones', nameless: 'Phone without a name',
    revoke: 'Shut out', revokeSure: 'Yes, shut it out', revoked: (name) => `${name || 'The phone'} is shut out.`, shutOut: 'shut out',
    seen: (age) => `last here ${age}`, thisOne: 'this phone',
  },
  tags: {
    title: 'Print tags', how: 'Home draws the sheets. Open the file where your printer is.', what: 'Tags for', all: 'all trees', blank: 'blank tags, in advance',
    count: 'How many blank tags', blankWrong: (most) => `Give a whole number from 1 to ${most}.`, paper: 'Paper', scale: 'Print at 100 %, not fitted to the page: then a code is 20 mm wide.',
    make: 'Make the sheets', making: 'Home is drawing', open: 'Open', download: 'Save the file', paperName: (name) => paperName(name),
  },
};

Object.assign(words.caution, {
  sap: words.caution.prune, pinch: words.caution.prune, thin_breba: words.caution.prune, thin_main: words.caution.prune, rejuvenate: words.caution.prune,
  take_cuttings: words.caution.prune, graft: words.caution.prune, root_prune: words.caution.prune, pot_up: words.caution.lifting, pot_down: words.caution.lifting,
});

const SHORT = {
  leaves_fallen: (value) => (value === '0' ? 'nothing fallen' : `${value} fallen`),
  shoots: (value) => `${value} shoots`, leaves_per_shoot: (value) => `${value} leaves a shoot`, shoot_leaves: (value) => `marked shoots ${value}`, leaves: (value) => `${value} leaves`,
  shoot_cm: (value) => `grown ${value}`, fruit_breba: (value) => `${value} breba`, fruit_main: (value) => `${value} main`,
  damage_percent: (value) => `damage ${value}`, leaf_cm2: (value) => `a leaf of ${value} cm²`, soil: (value) => `soil ${value}`,
};

const CAUSE = {
  move: 'the move', cold: 'cold', heat: 'heat', drought: 'a dry pot', disease: 'disease', pest: 'pests', wind: 'wind', repotting: 'the repotting',
  season: 'the season', unknown: 'a cause that is not clear',
};

const sentence = (text) => `${text[0].toUpperCase()}${text.slice(1)}.`;
const span = (low, high) => (low === high ? `about ${low}` : `between ${low} and ${high}`);
/** A rise in light: `2.5 times the light`, `33 percent more light`. */
function lightGain(ratio) {
  if (ratio >= 10) return 'more than ten times the light';
  return ratio >= 1.95 ? `${Number(ratio.toFixed(1))} times the light` : `${Math.round(100 * (ratio - 1))} percent more light`;
}

const leavesFor = (count) => `${count} ${count === 1 ? 'leaf' : 'leaves'}`;
const within = (low, high) => (typeof low === 'number' && low !== high ? ` (${span(low, high)})` : '');
const signed = (value) => (value < 0 ? `\u2212${-value}` : value > 0 ? `+${value}` : '0');

/** `a4-21-edge` → `A4, 21 labels, up to the edge` */
function paperName(name) {
  const [size, ...rest] = name.split('-');
  const count = rest.find((part) => /^\d+$/.test(part));
  const extra = rest.includes('edge') ? ', up to the edge' : rest.includes('cut') ? ', plain paper to cut' : rest.includes('stake') ? ', stakes to cut' : '';
  return `${size === 'a4' ? 'A4' : 'Letter'}, ${count} labels${extra}`;
}
