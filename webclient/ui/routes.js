// Which address shows which screen, and where each screen is; a screen is fetched when it is first needed.

/** Pattern and screen; the first that fits wins. */
export const ROUTES = [
  ['now', 'now'], ['index', 'index'], ['pair', 'pair'], ['pair/:code', 'pair'],
  ['scan', 'scan'], ['scan/:mode', 'scan'], ['scan/:mode/:id', 'scan'],
  ['tag/:code', 'tag'], ['new/:code', 'newtree'],
  ['tree/:id', 'tree'], ['tree/:id/history', 'visits'], ['tree/:id/out', 'treeout'], ['tree/:id/life', 'life'], ['tree/:id/:deed', 'carry'],
  ['round', 'round'], ['round/:id', 'rounddone'],
  ['barrow', 'barrow'], ['barrow/out', 'barrowout'], ['barrow/:deed', 'carry'],
  ['trees', 'trees'], ['trees/:code', 'trees'],
  ['places', 'places'], ['place/:id', 'place'], ['place/:id/out', 'placeout'], ['place/:id/walk', 'walk'], ['out', 'begunout'], ['varieties', 'varieties'], ['edit/:kind/:id', 'edit'],
  ['pocket', 'pocket'], ['pocket/:id', 'mend'],
  ['photo/:id', 'photo'],
  ['shelters', 'shelters'], ['shelters/:variety', 'shelters'], ['groups', 'groups'], ['season', 'season'], ['season/weights', 'weights'],
  ['show/:of', 'show'], ['show/:of/:id', 'show'],
  ['jobs', 'jobs'], ['calendar', 'calendar'], ['lessons', 'lessons'], ['cuttings', 'cuttings'], ['edit/:kind/:id/:from', 'edit'],
  ['settings', 'settings'], ['home', 'home'], ['species', 'species'], ['tags', 'tags'],
];

/** What only an owner's phone may do: a helper who has such an address from elsewhere is shown the index. */
export const OWNERS_PATHS = /^(home|tags|calendar|varieties|scan\/(retag|walk)\/.*|trees\/.*)$/;

/** Each screen's `open`, `view`, `changed` and `close`, by name. */
const SCREENS = {
  now: () => import('./screens/now.js').then((all) => all.nowScreen),
  index: () => import('./screens/simple.js').then((all) => all.indexScreen),
  pair: () => import('./screens/pair.js').then((all) => all.pairScreen),
  scan: () => import('./screens/scan.js').then((all) => all.scanScreen),
  tag: () => import('./screens/simple.js').then((all) => all.tagScreen),
  newtree: () => import('./screens/newtree.js').then((all) => all.newTreeScreen),
  tree: () => import('./screens/tree.js').then((all) => all.treeScreen),
  visits: () => import('./screens/visits.js').then((all) => all.visitsScreen),
  life: () => import('./screens/life.js').then((all) => all.lifeScreen),
  carry: () => import('./screens/carry.js').then((all) => all.carryScreen),
  round: () => import('./screens/round.js').then((all) => all.roundScreen),
  rounddone: () => import('./screens/rounddone.js').then((all) => all.roundDoneScreen),
  barrow: () => import('./screens/barrow.js').then((all) => all.barrowScreen),
  trees: () => import('./screens/trees.js').then((all) => all.treesScreen),
  places: () => import('./screens/cardlists.js').then((all) => all.placesScreen),
  place: () => import('./screens/place.js').then((all) => all.placeScreen),
  varieties: () => import('./screens/cardlists.js').then((all) => all.varietiesScreen),
  edit: () => import('./screens/cardlists.js').then((all) => all.cardEditScreen),
  pocket: () => import('./screens/pocket.js').then((all) => all.pocketScreen),
  photo: () => import('./screens/photo.js').then((all) => all.photoScreen),
  mend: () => import('./screens/mend.js').then((all) => all.mendScreen),
  settings: () => import('./screens/settings.js').then((all) => all.settingsScreen),
  home: () => import('./screens/home.js').then((all) => all.homeScreen),
  species: () => import('./screens/species.js').then((all) => all.speciesScreen),
  tags: () => import('./screens/tags.js').then((all) => all.tagsScreen),
  shelters: () => import('./screens/shelters.js').then((all) => all.sheltersScreen),
  groups: () => import('./screens/groups.js').then((all) => all.groupsScreen),
  season: () => import('./screens/season.js').then((all) => all.seasonScreen),
  weights: () => import('./screens/weights.js').then((all) => all.weightsScreen),
  treeout: () => import('./screens/out.js').then((out) => out.outScreen('tree')),
  barrowout: () => import('./screens/out.js').then((out) => out.outScreen('barrow')),
  placeout: () => import('./screens/out.js').then((out) => out.outScreen('place')),
  begunout: () => import('./screens/out.js').then((out) => out.outScreen('begun')),
  jobs: () => import('./screens/jobs.js').then((all) => all.jobsScreen),
  calendar: () => import('./screens/jobs.js').then((all) => all.calendarScreen),
  lessons: () => import('./screens/plans.js').then((all) => all.lessonsScreen),
  cuttings: () => import('./screens/plans.js').then((all) => all.cuttingsScreen),
  show: () => import('./screens/show.js').then((all) => all.showScreen),
  walk: () => import('./screens/walk.js').then((all) => all.walkScreen),
  lost: () => import('./screens/simple.js').then((all) => all.lostScreen),
};

const fetched = new Map();

/** A screen by its name; the first time it comes from its file, which the service worker keeps. */
export async function screenNamed(name) {
  if (!fetched.has(name)) fetched.set(name, await SCREENS[name]());
  return fetched.get(name);
}

let fetching = null;

/** Fetches every screen, one after the other, once, so that none has to be waited for in the garden. */
export function fetchScreens() {
  fetching ??= (async () => {
    for (const name of Object.keys(SCREENS)) await screenNamed(name).catch(() => null);
  })();
  return fetching;
}
