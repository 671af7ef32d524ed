// Which address shows which screen.
import { barrowScreen } from './screens/barrow.js';
import { carryScreen } from './screens/carry.js';
import { homeScreen } from './screens/home.js';
import { indexScreen, lostScreen, tagScreen } from './screens/simple.js';
import { mendScreen } from './screens/mend.js';
import { newTreeScreen } from './screens/newtree.js';
import { nowScreen } from './screens/now.js';
import { outScreen } from './screens/out.js';
import { pairScreen } from './screens/pair.js';
import { photoScreen } from './screens/photo.js';
import { placeScreen } from './screens/place.js';
import { cardEditScreen, placesScreen, varietiesScreen } from './screens/cardlists.js';
import { pocketScreen } from './screens/pocket.js';
import { roundScreen } from './screens/round.js';
import { roundDoneScreen } from './screens/rounddone.js';
import { scanScreen } from './screens/scan.js';
import { seasonScreen } from './screens/season.js';
import { settingsScreen } from './screens/settings.js';
import { sheltersScreen } from './screens/shelters.js';
import { speciesScreen } from './screens/species.js';
import { tagsScreen } from './screens/tags.js';
import { treeScreen } from './screens/tree.js';
import { treesScreen } from './screens/trees.js';
import { visitsScreen } from './screens/visits.js';
import { weightsScreen } from './screens/weights.js';

/** Pattern and screen; the first that fits wins. */
export const ROUTES = [
  ['now', 'now'], ['index', 'index'], ['pair', 'pair'], ['pair/:code', 'pair'],
  ['scan', 'scan'], ['scan/:mode', 'scan'], ['scan/:mode/:id', 'scan'],
  ['tag/:code', 'tag'], ['new/:code', 'newtree'],
  ['tree/:id', 'tree'], ['tree/:id/history', 'visits'], ['tree/:id/out', 'treeout'], ['tree/:id/:deed', 'carry'],
  ['round', 'round'], ['round/:id', 'rounddone'],
  ['barrow', 'barrow'], ['barrow/out', 'barrowout'], ['barrow/:deed', 'carry'],
  ['trees', 'trees'], ['trees/:code', 'trees'],
  ['places', 'places'], ['place/:id', 'place'], ['place/:id/out', 'placeout'], ['out', 'begunout'], ['varieties', 'varieties'], ['edit/:kind/:id', 'edit'],
  ['pocket', 'pocket'], ['pocket/:id', 'mend'],
  ['photo/:id', 'photo'],
  ['shelters', 'shelters'], ['shelters/:variety', 'shelters'], ['season', 'season'], ['season/weights', 'weights'],
  ['settings', 'settings'], ['home', 'home'], ['species', 'species'], ['tags', 'tags'],
];

export const SCREENS = {
  now: nowScreen, index: indexScreen, pair: pairScreen, scan: scanScreen, tag: tagScreen, newtree: newTreeScreen,
  tree: treeScreen, visits: visitsScreen, carry: carryScreen, round: roundScreen, rounddone: roundDoneScreen,
  barrow: barrowScreen, trees: treesScreen, places: placesScreen, place: placeScreen, varieties: varietiesScreen,
  edit: cardEditScreen, pocket: pocketScreen, photo: photoScreen, mend: mendScreen, settings: settingsScreen, home: homeScreen, species: speciesScreen, tags: tagsScreen,
  shelters: sheltersScreen, season: seasonScreen, weights: weightsScreen, treeout: outScreen('tree'), barrowout: outScreen('barrow'), placeout: outScreen('place'), begunout: outScreen('begun'), lost: lostScreen,
};
