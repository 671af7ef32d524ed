// Die deutschen Wörter, über die englischen von text.js gelegt; was hier fehlt, bleibt englisch. Die Befunde schreibt das Zuhause, auf Englisch.
import { furtherWords } from './text_de_further.js';
import { lifeWords } from './text_de_life.js';

const n = (count, one, many) => `${count} ${count === 1 ? one : many}`;
const trees = (count) => n(count, 'Baum', 'Bäume');
const pots = (count) => n(count, 'Topf', 'Töpfe');
const entries = (count) => n(count, 'Eintrag', 'Einträge');
const leaves = (count) => n(count, 'Blatt', 'Blätter');
const notHome = ({ unsent, photos_waiting: photos, parked, photos_refused }, held) => [
  unsent ? `${held(unsent)} offen` : photos && `${n(photos, 'Foto', 'Fotos')} offen`,
  parked + photos_refused && `${parked + photos_refused} abgelehnt`].filter(Boolean).join(', ') || 'Tasche leer';
const spaced = (code) => `${code.slice(0, 3)} ${code.slice(3)}`;
const ago = (count, one, many) => `vor ${n(count, one, many)}`;
const span = (low, high) => (low === high ? `etwa ${low}` : `zwischen ${low} und ${high}`);
const signed = (value) => (value < 0 ? `\u2212${-value}` : value > 0 ? `+${value}` : '0');
const within = (low, high) => (typeof low === 'number' && low !== high ? ` (${span(low, high)})` : '');
const CAUSE = {
  move: 'der Umzug', cold: 'Kälte', heat: 'Hitze', drought: 'ein trockener Topf', disease: 'Krankheit', pest: 'Schädlinge', wind: 'Wind',
  repotting: 'das Umtopfen', season: 'die Jahreszeit', unknown: 'eine Ursache, die nicht klar ist',
};
const cause = (name) => CAUSE[name] ?? name;
const SAP = 'Saft und Sonne zusammen können noch Stunden später Blasen auf der Haut machen. Arme und Hände bedecken, Saft abwaschen, damit nicht in die Sonne.';
const LIFT = 'Ein gegossener Topf wiegt viel mehr als ein trockener. Mit den Beinen heben, eine Karre oder zweite Hände nehmen; 23 kg sind schon zu viel, wenn nicht alles passt.';

export const decimalSign = ',';

export const words = {
  ...furtherWords,
  ...lifeWords,
  strip: 'Leafwalk', back: 'Zurück', close: 'Schließen', save: 'Speichern', saved: 'Gespeichert.', undo: 'Zurücknehmen', undone: 'Zurückgenommen.',
  more: (count) => `Mehr zeigen (noch ${count})`,
  screens: {
    now: 'Jetzt', round: 'Runde', barrow: 'Karre', trees: 'Bäume', places: 'Plätze', pocket: 'Tasche', settings: 'Einstellungen', index: 'Menü',
    scan: 'Scan', jobs: 'Arbeiten', shelters: 'Was der Schutz bewirkte', season: 'Jahresrückblick', groups: lifeWords.groups.title,
  },
  age: {
    now: () => 'gerade eben', minute: (count) => `vor ${count} min`, hour: (count) => `vor ${count} h`, day: (count) => ago(count, 'Tag', 'Tagen'),
    week: (count) => ago(count, 'Woche', 'Wochen'), month: (count) => ago(count, 'Monat', 'Monaten'), year: (count) => ago(count, 'Jahr', 'Jahren'),
  },
  level: { act: 'Handeln', watch: 'Beobachten' },
  role: { owner: 'Inhaber', helper: 'Helfer' },
  kind: {
    variety: 'Sorte', place: 'Platz', tree: 'Baum', round: 'Runde', observation: 'Besuch', move: 'Umzug', work: 'Arbeit', reading: 'Thermometer',
    harvest: 'Ernte', photo: 'Foto', job: 'Arbeit', lesson: 'Lehre', batch: 'Stecklinge',
  },
  field: {
    variety: 'Sorte', species: 'Art', note: 'Notiz', place: 'Platz', cover: 'Schutz', light_percent: 'Licht, das durchkommt, %', heated: 'Beheizt',
    latitude: 'Breite, °', tag: 'Etikett', pot_litres: 'Topf', source: 'Woher er kam', started_on: 'Hier seit', standing: 'Stellung',
    position: 'Platz in der Reihe', started_at: 'Begonnen', finished_at: 'Beendet', seen_at: 'Gesehen um', shoots: 'Wachsende Triebe',
    leaves_per_shoot: 'Blätter je Trieb', leaves: 'Alle Blätter, wenn gezählt', leaves_fallen: 'Gefallene Blätter', shoot_cm: 'Zuwachs der Triebe',
    fruit_breba: 'Brebafrüchte', fruit_main: 'Hauptfrüchte', damage_percent: 'Schaden, %', causes: 'Ursache von Schaden oder Fall', bbch: 'Stadium',
    soil: 'Erde im Topf', marked_shoots: 'Markierte Triebe, jede Runde gezählt', shoot_leaves: 'Blätter an jedem markierten Trieb', leaf_cm2: 'Fläche eines Blatts, cm²',
    tree: 'Baum', moved_at: 'Umgezogen um', to_place: 'Wohin', task: 'Was getan wurde', amount: 'Wie viel, Liter oder Früchte', done_at: 'Getan um',
    date: 'Tag', t_min_c: 'Tiefste', t_max_c: 'Höchste', picked_at: 'Gepflückt um', fruit: 'Welche Ernte', weight_g: 'Gewicht, g',
    quality: 'Güte, 1 bis 5', sha256: 'Foto', taken_at: 'Aufgenommen um', job: 'Was zu tun ist', key: 'Antwortet auf', due_on: 'Bis wann',
    put_off_to: 'Verschoben auf', done_on: 'Getan am', dropped: 'Fallen gelassen', lesson: 'Was zu merken ist', on_day: 'Tag im Jahr, etwa 04-20',
    degree_days: 'Oder bei so vielen Gradtagen, °C', learned_on: 'Gelernt am', heeded_on: 'Beachtet am', batch: 'Stecklinge', method: 'Vermehrt durch',
    taken_on: 'Geschnitten am', taken: 'Wie viele', rooted: 'Bewurzelt', failed: 'Verloren', parent: 'Mutterbaum', part: 'Teil des Baums',
    walk: 'Reihenfolge', origin_country: 'Herkunftsland, drei Buchstaben', donor_number: 'Nummer beim Geber', decision: 'Entscheidung', decided_on: 'Entschieden am',
  },
  form: {
    none: 'nicht notiert', yes: 'ja', no: 'nein', number: 'Hier eine Zahl schreiben, etwa 12 oder 4,5.',
    between: (low, high) => `Ein Wert zwischen ${low} und ${high}.`,
  },
  count: { more: (label) => `${label}: eins mehr`, less: (label) => `${label}: eins weniger` },
  code: {
    empty: 'Die sechs Zeichen schreiben, die auf dem Etikett stehen.', form: 'Ein Etikett hat sechs Zeichen, etwa 4KD 7QH. Noch einmal lesen.',
    check: 'Diese sechs Zeichen passen nicht zusammen: eins ist falsch gelesen. Noch einmal hinsehen, vor allem bei 8 und B, 5 und S, 2 und Z.',
  },
  error: {
    title: 'Etwas ging schief', screen: 'Diese Seite ließ sich nicht öffnen.',
    notSaved: (reason) => `Nicht gespeichert. ${reason}`,
  },
  lost: { title: 'Keine solche Seite', text: 'Diese Adresse führt nirgends hin. Unten ist das Menü.', tag: 'Etikett' },
  notice: {
    label: 'Hinweis', revoked: 'Das Zuhause hat dieses Telefon ausgeschlossen. Alle Einträge bleiben darauf; neu koppeln, um sie zu senden.',
    update: 'Eine neue Fassung von Leafwalk ist da.', use: 'Jetzt nutzen', closed: 'Leafwalk wurde in einem anderen Fenster neu geöffnet; dieses steht still.',
    lost: 'Der Browser hat den Speicher von Leafwalk geleert. Was noch nicht zu Hause war, kann verloren sein.',
    reload: 'Neu laden',
  },
  pocketLine: {
    held: (pocket) => notHome(pocket, String),
    oldest: (age) => age, never: 'nie abgeglichen',
  },
  phase: {
    unpaired: 'Dieses Telefon ist noch nicht gekoppelt. Einträge warten hier, bis es so weit ist.', idle: 'Das Zuhause wurde erreicht.',
    syncing: 'Sendet und holt.', offline: 'Das Zuhause ist gerade nicht erreichbar. Einträge warten hier und gehen später von selbst.',
    busy: 'Das Zuhause bittet um etwas Geduld. Es wird von selbst wieder versucht.',
    revoked: 'Das Zuhause hat dieses Telefon ausgeschlossen. Alles bleibt hier, bis es neu gekoppelt ist.',
    trouble: 'Der letzte Versuch, das Zuhause zu erreichen, schlug fehl.',
  },
  pair: {
    title: 'Dieses Telefon koppeln', this: 'Dieses Telefon und das Zuhause', again: 'Neu koppeln', key: 'Koppeln', busy: 'Koppelt',
    fetched: (count) => `${count} Einträge vom Zuhause geholt.`,
    how: 'Am Rechner zu Hause leafwalk pair aufrufen. Es zeigt eine Viertelstunde lang einen Code. Ihn hier schreiben oder sein Quadrat scannen.',
    code: 'Kopplungscode', name: 'Wie dieses Telefon heißen soll', scan: 'Das Quadrat scannen',
    nameOf: (agent) => (/iPhone/.test(agent) ? 'iPhone' : /iPad/.test(agent) ? 'iPad' : /Android/.test(agent) ? 'Android-Telefon' : 'Rechner'),
    done: (collection) => (collection ? `Gekoppelt mit ${collection}.` : 'Gekoppelt.'),
    already: (collection, role) => `Gekoppelt mit ${collection || 'dem Zuhause'} als ${role}. Ein neuer Code koppelt neu; Einträge bleiben.`,
    revoked: (unsent) => `Das Zuhause hat dieses Telefon ausgeschlossen. ${entries(unsent)} ungesendet; sie gehen nach dem Koppeln.`,
    end: 'Dieses Telefon entkoppeln', endSure: 'Ja, entkoppeln', ended: 'Entkoppelt. Was dieses Telefon hält, bleibt darauf.',
    endHow: 'Entkoppelt sendet und holt dieses Telefon nichts mehr. Was es hält, bleibt darauf, auch Ungesendetes, bis es neu gekoppelt wird.',
    installFirst: 'Das vor dem Koppeln tun: was auf der Browserseite eingegeben wird, folgt nicht auf den Startbildschirm.',
  },
  install: {
    title: 'Leafwalk auf den Startbildschirm legen', key: 'Installieren', prompt: 'Dann öffnet es ohne Netz, und der Browser behält seine Einträge.',
    'share-menu': 'Das Teilen-Zeichen des Browsers antippen, dann „Zum Home-Bildschirm“. Leafwalk von nun an dort öffnen.',
    'browser-menu': 'Im Menü des Browsers installieren oder zum Startbildschirm hinzufügen. Dann öffnet es ohne Netz.',
  },
  scan: {
    errand: {
      open: { title: 'Ein Etikett scannen', label: 'Oder den Code schreiben', placeholder: 'ABC DEF', open: 'Öffnen' },
      barrow: { title: 'Die Karre laden', label: 'Oder den Code schreiben', placeholder: 'ABC DEF', open: 'Laden' },
      retag: { title: 'Das neue Etikett scannen', label: 'Oder den neuen Code schreiben', placeholder: 'ABC DEF', open: 'Nehmen' },
      walk: { title: 'Der Reihe nach scannen', label: 'Oder den Code schreiben', placeholder: 'ABC DEF', open: 'Weiter' },
      pair: { title: 'Das Kopplungsquadrat scannen', label: 'Oder den Kopplungscode schreiben', placeholder: '', open: 'Nehmen' },
    },
    camera: {
      denied: 'Die Kamera ist hier nicht erlaubt. In den Einstellungen des Browsers erlauben oder den Code unten schreiben.',
      missing: 'Keine Kamera gefunden. Den Code unten schreiben.', taken: 'Ein anderes Programm nutzt die Kamera. Es schließen oder den Code unten schreiben.',
      insecure: 'Die Kamera geht nur auf einer sicheren Seite (https). Den Code unten schreiben.',
      broken: 'Die Kamera startete nicht. Den Code unten schreiben oder ein Foto des Etiketts wählen.',
    },
    video: 'Bild der Kamera', starting: 'Die Kamera startet', torch: 'Licht', photo: 'Foto eines Etiketts', reading: 'Liest das Foto.',
    noCode: 'In diesem Foto ist kein Code. Näher und schärfer aufnehmen oder den Code schreiben.', justDone: (code) => `${code} ist fertig. Das nächste Etikett scannen.`,
    unknown: (code) => `Noch kein Baum hat das Etikett ${code}.`, unknownHelper: (code) => `Noch kein Baum hat das Etikett ${code}. Bäume legt das Telefon eines Inhabers an.`,
    already: (code) => `${code} ist schon auf der Karre.`, loaded: (code) => `${code} geladen.`, barrowFull: (count) => `Die Karre fasst höchstens ${pots(count)}. Erst diese umstellen.`,
    onBarrow: (count) => `${pots(count)} auf der Karre`, toBarrow: (count) => `Weiter mit ${n(count, 'Topf', 'Töpfen')}`, retag: (code) => `Das nächste Etikett ersetzt ${code}. Der alte Code findet den Baum weiterhin.`,
    taken: (code) => `${code} gehört schon zu einem Baum. Ein anderes Etikett nehmen.`, retagged: (code) => `Der Baum hat jetzt das Etikett ${code}.`,
  },
  newTree: {
    title: 'Neuer Baum auf diesem Etikett', heading: (code) => `Neuer Baum auf Etikett ${spaced(code)}`, takenOver: 'Vom Baum davor übernommen.',
    newVariety: 'neue Sorte, unten geschrieben', newPlace: 'neuer Platz, unten geschrieben', replace: 'Es ersetzt das alte Etikett eines Baums', save: 'Den Baum speichern',
    saved: (code) => `${code} gespeichert.`, helper: 'Noch kein Baum hat dieses Etikett. Bäume legt das Telefon eines Inhabers an.',
  },
  tree: {
    title: (code) => `Baum ${spaced(code)}`, noVariety: 'Sorte nicht notiert', missingTitle: 'Kein solcher Baum',
    missing: 'Dieser Baum ist nicht auf diesem Telefon. Abgleichen oder das Etikett noch einmal scannen.', position: (position) => `Nr. ${position}`,
    lastSeen: (age) => `Letzter Besuch ${age}`, neverSeen: 'Noch nicht besucht', unseen: 'noch nicht', deeds: 'Was sonst mit diesem Baum zu tun ist',
    history: 'Was geschah', noHistory: 'Noch nichts notiert.', allHistory: 'Alles davon', about: 'Über ihn', since: (day) => `hier seit ${day}`, former: 'Frühere Etiketten:',
  },
  deed: { move: 'Umstellen', work: 'Arbeit', harvest: 'Ernte', edit: 'Karte ändern', retag: 'Neues Etikett', out: 'Hinausbringen' },
  visit: {
    partOnly: 'Nur ein Ast oder eine Seite', partHow: 'Was dann notiert wird, gilt für diesen Teil und zählt nicht zu dem, was für den ganzen Baum gerechnet wird.', form: 'Besuch', last: (value) => `zuletzt ${value}`, lastOn: (value, day) => `${value} am ${day}`, noLast: 'noch nicht gezählt',
    asLast: 'Nichts gefallen, wie letztes Mal', nothingFallen: 'Nichts gefallen', fill: 'Rest wie letztes Mal', saved: (code) => `${spaced(code)} gespeichert.`,
    undone: 'Der Besuch wurde zurückgenommen.', clear: 'Dieses Formular leeren', clearSure: 'Ja, leeren', short: (name, value) => (SHORT[name] ? SHORT[name](value) : value),
  },
  marked: {
    legend: 'Blätter an den markierten Trieben', mean: (value) => `Mittel ${value},`, shoot: (at) => `Markierter Trieb ${at}`, next: 'Weiter',
    countAll: 'Einmal auch alle wachsenden Triebe zählen, damit die markierten für den Baum sprechen.',
  },
  photo: {
    legend: 'Fotos', take: 'Ein Foto machen', alt: (at) => `Foto ${at} dieses Besuchs`, remove: (at) => `Foto ${at} weglassen`,
    full: (most) => `${most} Fotos sind das meiste für einen Besuch.`, title: 'Foto', ofTree: 'Foto dieses Baums', gone: 'Dieses Foto ist nicht auf diesem Telefon.',
    fetching: 'Holt es vom Zuhause.', away: (reason) => `Das Foto ist zu Hause. ${reason}`,
  },
  history: {
    title: (code) => `Was mit ${code} geschah`, looked: 'angesehen', moved: (place) => `nach ${place}`, somewhere: 'einem Platz, der nicht auf diesem Telefon ist',
    photo: 'aufgenommen', fruits: (count) => `${count} Früchte`, grams: (weight) => `${weight} g`, quality: (grade) => `Güte ${grade} von 5`, unsent: 'ungesendet',
    by: (phone) => `notiert auf ${phone}`, correct: 'Berichtigen', look: 'Ansehen', withdraw: 'Zurücknehmen', withdrawSure: 'Ja, zurücknehmen', withdrawn: 'Der Eintrag wurde zurückgenommen.', more: 'Ältere zeigen',
  },
  chart: {
    day: 'Tag', leaves: 'Blätter', leavesName: 'Blätter am Baum', value: (value, unit, day) => `${value} ${value === '1' ? ONE[unit] ?? unit : unit} am ${day}.`, mark: (what, day) => `Gestrichelt: ${what}, ${day}.`,
    expected: (low, high) => `Zwischen ${low} und ${high} erwartet.`, expectedName: 'erwartet', range: (low, high) => `${low} bis ${high}`,
  },
  finding: {
    label: 'Befund', since: (day) => `seit ${day}`, night: (day) => `in der Nacht des ${day}`, which: (count) => `Welche ${trees(count)}`,
    likely: (name) => `Wahrscheinlich ${cause(name)}.`, others: (count) => (count === 1 ? 'Eine andere Ursache' : `${count} andere Ursachen`), advice: 'Zu tun:', open: 'Die Karte öffnen',
    kind: {
      leaf_drop: 'Verliert Blätter', overloaded: 'Zu viel Frucht für seine Blätter', behind: 'Hinter der Jahreszeit', cold: 'Kälte voraus',
      too_much_light: 'Zu großer Schritt ins Licht', unvisited: 'Lange nicht besucht',
    },
    cause: (name) => `${cause(name)[0].toUpperCase()}${cause(name).slice(1)}.`,
  },
  trend: {
    leaves: (low, high) => (low === high ? `Etwa ${low} Blätter jetzt.` : `Zwischen ${low} und ${high} Blätter jetzt.`), rising: (low, high) => `Wächst um ${span(low, high)} % je Woche.`,
    falling: (low, high) => `Fällt um ${span(-high, -low)} % je Woche.`, steady: (low, high) => `Gleichmäßig: ${signed(low)} bis ${signed(high)} % je Woche.`,
    unknown: 'Zu selten oder zu grob gezählt, um zu sagen, ob die Blätter mehr oder weniger werden.',
  },
  health: {
    title: 'Gesundheit', ofHundred: 'von 100', parts: 'Ihre Teile', of: (score) => `${score} von 100`, counts: (percent) => `zählt ${percent} %`,
    part: { 'leaves kept': 'Behaltene Blätter', growth: 'Wachstum', damage: 'Frei von Schaden', 'crop burden': 'Last der Früchte' },
  },
  crop: {
    title: 'Früchte und Blätter', notKnown: 'nicht genug gezählt', why: 'Warum', whatToCount: 'Was zu zählen ist',
    leavesEach: (low, high) => (low === high ? `etwa ${leaves(low)} je Frucht` : `${low} bis ${leaves(high)} je Frucht`),
    take: { breba: (count, low, high) => `${n(count, 'Breba', 'Brebas')}${within(low, high)}`, main: (count, low, high) => `${n(count, 'Hauptfrucht', 'Hauptfrüchte')}${within(low, high)}` },
    takeOff: (parts) => `${parts.join(', dann ')} abnehmen, die kleinsten zuerst.`, countAgain: 'Blätter und Früchte in einer Woche noch einmal zählen, ehe etwas abgenommen wird.',
  },
  now: {
    places: 'Was ein ganzer Platz teilt', figure: (act, watch) => [act && `${trees(act)} zum Handeln`, watch && (act ? `${watch} zum Beobachten` : `${trees(watch)} zum Beobachten`)].filter(Boolean).join(', '),
    calmFigure: 'Nichts braucht Sie', calm: (count) => `Das Zuhause sah ${trees(count)} an und fand nichts zu tun oder zu beobachten.`, asOf: (age) => `Vom Zuhause, ${age}.`,
    notYet: 'Vom Zuhause kam noch nichts. Befunde erscheinen hier nach dem ersten Abgleich.', unpaired: 'Befunde kommen vom Zuhause. Erst dieses Telefon koppeln.', roundOn: 'Eine Runde läuft',
  },
  round: {
    choose: 'Die Plätze der Runde wählen; keiner gewählt heißt alle.', start: (count) => `Die Runde in ${n(count, 'Platz', 'Plätzen')} beginnen`, startAll: 'Die Runde beginnen',
    seen: (done, all) => `${done} von ${all} gesehen`, since: (when) => `Begonnen ${when}.`, skipped: (count) => `${count} übergangen.`, next: 'Der nächste', then: (count) => `Danach noch ${count}`,
    open: 'Öffnen', skip: 'Übergehen', allSeen: 'Alle dieser Runde sind gesehen oder übergangen.', finish: 'Die Runde beenden', finishSure: 'Ja, beenden',
    finishLeft: (count) => `Mit ${count} ungesehenen beenden`, finished: 'Runde beendet.',
  },
  roundDone: {
    title: 'Die Runde', missing: 'Diese Runde ist nicht auf diesem Telefon.', seen: (count) => `${trees(count)} gesehen`, fell: (count) => `${leaves(count)} gefallen.`,
    noneFell: 'Kein Blatt fiel.', moves: (count) => (count ? `${n(count, 'Umzug', 'Umzüge')}.` : ''), work: (task, count) => `${task}: ${count}.`, unseen: (count) => `${trees(count)} nicht gesehen.`,
    unseenList: (count) => `Nicht gesehen (${count})`, changes: 'Was sich änderte', fallen: (count) => `${leaves(count)} gefallen`, step: (label, before, after) => `${label} ${before} → ${after}`,
  },
  barrow: {
    none: 'Töpfe nacheinander scannen; dann alle zusammen umstellen oder eine Arbeit für alle notieren.', scan: 'Töpfe scannen', more: 'Mehr scannen', move: 'Umstellen', work: 'Arbeit',
    empty: 'Die Karre leeren', emptySure: (count) => `Ja, ${pots(count)} abladen`, remove: (code) => `${spaced(code)} abladen`,
  },
  carry: {
    title: { move: 'Umstellen', work: 'Arbeit', harvest: 'Ernte' }, none: 'Kein Baum ist gewählt. Erst welche scannen.', trees, standsIn: (place) => `Steht in ${place}.`,
    otherTime: 'Es war zu anderer Zeit', litres: (unit) => `Wie viel (${unit})`, fruits: 'Wie viele Früchte',
    save: { move: (count) => `${pots(count)} umstellen`, work: (count) => `Für ${trees(count)} notieren`, harvest: () => 'Die Ernte speichern' },
    saved: { move: (count) => `${pots(count)} umgestellt.`, work: (count) => `Für ${trees(count)} notiert.`, harvest: () => 'Ernte gespeichert.' },
  },
  light: {
    title: 'Zu großer Schritt ins Licht', some: (count, all) => `für ${count} von ${all}`, first: (place) => `erst ${place}`,
    gain: (ratio, before, after) => `Er bekäme ${Number(ratio.toFixed(1))}-mal so viel Licht: ${after} statt ${before} mol/m² am Tag.`, shaded: 'Er stand im Schatten, und Schattenblätter verbrennen zuerst.',
    lately: 'Er zog in den letzten zwei Wochen schon um; zwei Umzüge kurz nacheinander sind schlimmer als einer.', noWind: 'Er kannte keinen Wind, seit er unter Schutz kam.',
    advice: { act: 'Erst abhärten, mit ein, zwei Stunden Morgensonne und jeden Tag etwas mehr.', watch: 'Einen trüben Tag wählen und eine Woche lang mittags schattieren.' },
    anyway: (label) => `Trotzdem: ${label}`,
  },
  caution: {
    lifting: LIFT, prune: SAP, sap: SAP, pinch: SAP, thin_breba: SAP, thin_main: SAP, rejuvenate: SAP, take_cuttings: SAP, graft: SAP, root_prune: SAP, pot_up: LIFT, pot_down: LIFT,
    spray: 'Das Etikett des Mittels und die örtlichen Regeln entscheiden über Menge, Schutz, Wartezeit und Wetter. Sie befolgen.',
    shelter: 'Nie Brennstoff verbrennen, um einen dichten Raum zu heizen: das macht Kohlenmonoxid. Luft einlassen und einen Warner nutzen.',
    heater: 'Läuft hier ein Heizer mit Brennstoff: nie im dichten Raum. Er macht Kohlenmonoxid; Luft einlassen und einen Warner nutzen.',
  },
  trees: {
    count: trees, find: 'Nach Code, Sorte oder Platz finden', grown: 'Probe und behalten', all: 'Alle', pick: (code) => `Welcher Baum bekommt ${code}?`,
    pickHint: (code) => `Den Baum antippen, der jetzt das Etikett ${code} trägt.`,
  },
  place: {
    glance: { title: 'Licht und Kälte', light: 'Licht', lets: 'von dem draußen', lowest: 'Tiefste der letzten Woche', ahead: 'Tiefste, die bevorsteht', frost: 'Frost', frosts: 'Frostnächte', of: (count) => `von ${n(count, 'Nacht', 'Nächten')}, in zwölf Monaten abgelesen` },
    none: 'Noch kein Platz notiert.', add: 'Einen Platz anlegen', light: (percent) => `${percent} % Licht`, heated: 'beheizt', thermometer: 'Thermometer', saveReading: 'Die Ablesung speichern',
    readingSaved: (day) => `Ablesung vom ${day} gespeichert.`,
  },
  heat: {
    title: 'Wärme und Kälte', none: 'Noch zu wenige Ablesungen.', degreeDays: (unit) => `Gradtage, °${unit}`, chillHours: (unit) => `Stunden unter ${unit === 'F' ? '45 °F' : '7,2 °C'}`,
    chillUnits: 'Kälteeinheiten, höchstens', water: 'Wasser, das die Luft nahm', week: 'von offenem Gras, in sieben Tagen',
    rests: (days, filled, missing) => [`Über ${n(days, 'Tag', 'Tage')}.`, filled && `${filled} davon ergänzt aus den Plätzen oder Tagen daneben.`, missing && `${n(missing, 'Tag fehlt', 'Tage fehlen')}.`].filter(Boolean).join(' '),
  },
  species: {
    title: 'Was eine Art braucht', how: 'Damit rechnet das Zuhause. Ändern, wo Sie es besser wissen; das gilt dann für jeden Baum der Art.', helper: 'Damit rechnet das Zuhause. Geändert wird auf dem Telefon eines Inhabers.',
    name: (text) => `${text[0].toUpperCase()}${text.slice(1)}`, own: 'Ihre eigene Zahl.', setting: 'Eine Einstellung: keine Veröffentlichung nennt sie.', source: (text) => `Quelle: ${text}.`.replace(/\.\.$/, '.'),
    range: (low, high) => `Gesehen von ${low} bis ${high}.`, back: (text) => (text ? `Zurück zu ${text}` : 'Zurück zu keiner'),
  },
  variety: { title: 'Sorten', none: 'Noch keine Sorte notiert.', add: 'Eine Sorte anlegen' },
  edit: {
    title: (name) => `${name} ändern`, fact: (kind, when) => `${kind}, ${when}`, helper: 'Karten ändert das Telefon eines Inhabers. Besuche, Umzüge und Arbeiten lassen sich weiter notieren.',
    placeHint: 'Platz und Topf sind die, mit denen der Baum begann. Spätere Umzüge und Topfwechsel als solche notieren.',
  },
  pocket: {
    unsent: (pocket) => notHome(pocket, entries), oldest: (age) => `Der älteste entstand ${age}.`, photos: (count) => `${n(count, 'Foto wartet', 'Fotos warten')} aufs Senden.`,
    contact: (when) => `Letzter Kontakt ${when}.`, next: (when) => `Nächster Versuch ${when}.`, pairedAs: (collection, role) => `Gekoppelt mit ${collection || 'dem Zuhause'} als ${role}.`,
    refused: (count) => `${entries(count)} vom Zuhause abgelehnt`, refusedHint: 'Nichts ist verloren. Jeden berichtigen oder verwerfen.', mend: 'Berichtigen', list: 'Nur auf diesem Telefon',
    empty: 'Jeder Eintrag ist zu Hause.', further: (count) => `Und ${count} weitere.`, withdrawn: (kind) => `${kind} zurückgenommen`, keep: 'Sicher aufbewahren', syncNow: 'Jetzt abgleichen', export: 'Als Datei sichern',
    exported: (left_out) => `Die Datei enthält alles, was noch nicht zu Hause ist${left_out ? `, bis auf ${n(left_out, 'Foto', 'Fotos')} ohne Platz darin, weiterhin nur auf diesem Telefon` : ''}. Zu Hause: leafwalk import DATEI`,
    storage: (persisted) => (persisted ? 'Der Browser hat versprochen, diese Einträge zu behalten.' : persisted === false
      ? 'Der Browser kann Einträge löschen, wenn dem Telefon der Platz ausgeht.' : 'Dieser Browser sagt nicht, ob er Einträge behält.'),
    room: (used, free) => `${used} MB belegt${free === null ? '' : `, ${free} MB frei`}.`, askKeep: 'Den Browser bitten, sie zu behalten', asked: 'Der Browser wurde gebeten.',
  },
  mend: {
    title: 'Einen Eintrag berichtigen', gone: 'Dieser Eintrag ist erledigt.', again: 'Noch einmal senden', photoAgain: 'Das Foto noch einmal senden', done: 'Er geht mit dem nächsten Abgleich.', discard: 'Verwerfen',
    discardSure: 'Ja, endgültig verwerfen', discardHint: 'War er von Anfang an ein Versehen, kann er verworfen werden. Das lässt sich nicht zurücknehmen.', discarded: 'Der Eintrag wurde verworfen.',
  },
  settings: { length: 'Länge', volume: 'Töpfe und Wasser', temperature: 'Temperatur', theme: 'Hell oder dunkel', language: 'Sprache' },
  unit: { cm: 'cm', in: 'Zoll', l: 'Liter', gal: 'Gallonen', C: '°C', F: '°F' },
  theme: { auto: 'Wie das Telefon', light: 'Hell', dark: 'Dunkel' },
  home: {
    title: 'Sammlung und Telefone', collection: 'Name der Sammlung', invite: 'Ein weiteres Telefon einlassen', role: 'Es handelt als', roleHint: 'Ein Helfer notiert Besuche, Umzüge und Arbeiten. Ein Inhaber ändert auch Karten und lässt Telefone ein oder aus.',
    makeCode: 'Einen Kopplungscode machen', until: (when) => `Gilt bis ${when}, für ein Telefon.`, phones: 'Telefone', nameless: 'Telefon ohne Namen', revoke: 'Ausschließen', revokeSure: 'Ja, ausschließen',
    revoked: (name) => `${name || 'Das Telefon'} ist ausgeschlossen.`, shutOut: 'ausgeschlossen', seen: (age) => `zuletzt hier ${age}`, thisOne: 'dieses Telefon',
  },
  tags: {
    title: 'Etiketten drucken', how: 'Das Zuhause zeichnet die Bögen. Die Datei dort öffnen, wo der Drucker ist.', what: 'Etiketten für', all: 'alle Bäume', blank: 'leere Etiketten, im Voraus', count: 'Wie viele leere Etiketten',
    blankWrong: (most) => `Eine ganze Zahl von 1 bis ${most}.`, paper: 'Papier', scale: 'Mit 100 % drucken, nicht an die Seite angepasst: dann ist ein Code 20 mm breit.', make: 'Die Bögen machen', making: 'Das Zuhause zeichnet',
    open: 'Öffnen', download: 'Die Datei sichern',
    paperName: (name) => {
      const [size, ...rest] = name.split('-');
      const extra = rest.includes('edge') ? ', bis zum Rand' : rest.includes('cut') ? ', Papier zum Schneiden' : rest.includes('stake') ? ', Stecker zum Schneiden' : '';
      return `${size === 'a4' ? 'A4' : 'Letter'}, ${rest.find((part) => /^\d+$/.test(part))} Etiketten${extra}`;
    },
  },
};

/** Units of a single one. */
const ONE = { Blätter: 'Blatt', Früchte: 'Frucht', Triebe: 'Trieb' };
const of = (value, unit) => `${value} ${value === '1' ? ONE[unit] : unit}`;

const SHORT = {
  leaves_fallen: (value) => (value === '0' ? 'nichts gefallen' : `${value} gefallen`), shoots: (value) => of(value, 'Triebe'), leaves_per_shoot: (value) => `${of(value, 'Blätter')} je Trieb`,
  shoot_leaves: (value) => `markierte Triebe ${value}`, leaves: (value) => of(value, 'Blätter'), shoot_cm: (value) => `gewachsen ${value}`, fruit_breba: (value) => `${value} Breba`, fruit_main: (value) => `${value} Haupt`,
  damage_percent: (value) => `Schaden ${value}`, leaf_cm2: (value) => `ein Blatt von ${value} cm²`, soil: (value) => `Erde ${value}`,
};

const TASK = {
  pot_up: 'größer topfen', pot_down: 'kleiner topfen', root_prune: 'Wurzeln schneiden', prune: 'schneiden', rejuvenate: 'verjüngen', pinch: 'pinzieren', thin_breba: 'Brebas ausdünnen',
  thin_main: 'Haupternte ausdünnen', feed: 'düngen', water: 'gießen', spray: 'spritzen', shelter: 'schützen', uncover: 'aufdecken', take_cuttings: 'Stecklinge schneiden', graft: 'veredeln',
};

export const choices = {
  COVERS: { open: 'offen', shade: 'Schatten', porch: 'Vordach', glasshouse: 'Glashaus', polytunnel: 'Folientunnel', low_tunnel: 'niedriger Tunnel', indoors: 'im Haus', ground: 'im Boden' },
  STANDINGS: { trial: 'Probe', keeper: 'behalten', retired: 'ausgeschieden' }, TASKS: TASK,
  JOBS: { ...TASK, move: 'umstellen', look: 'ansehen', reprint_tag: 'Etikett drucken', harvest: 'ernten', measure: 'messen', other: 'etwas anderes' },
  DECISIONS: { keep: 'behalten', trial_again: 'noch ein Jahr versuchen', give_away: 'abgeben', retire: 'ausscheiden' },
  PROPAGATIONS: { cutting: 'Stecklinge', layer: 'Absenker', graft: 'Veredelung', seed: 'Samen', division: 'Teilung' },
  CAUSES: { sun: 'Sonne', wind: 'Wind', cold: 'Kälte', heat: 'Hitze', drought: 'Trockenheit', wet: 'Nässe', pest: 'Schädling', disease: 'Krankheit', handling: 'Anfassen', age: 'Alter' },
  FRUITS: { breba: 'Breba', main: 'Haupternte' }, SOILS: { dry: 'trocken', moist: 'feucht', wet: 'nass' },
  STAGES: {
    1: 'Knospen schwellen', 5: 'Knospen strecken sich', 7: 'Knospen weit gestreckt', 9: 'Austrieb', 11: 'erstes Blatt löst sich', 15: 'Blätter entfalten sich', 17: 'die meisten Blätter entfaltet', 19: 'alle Blätter entfaltet',
    31: 'Triebe beginnen zu wachsen', 33: 'Triebe wachsen', 37: 'Triebe bei 70 % der Länge', 39: 'Triebe bei 90 % der Länge', 51: 'Blütenknospen erscheinen', 53: 'Blütenknospen schwellen', 55: 'Blütenknospen strecken sich',
    59: 'Blütenknospen voll', 61: 'Blüte beginnt', 65: 'Vollblüte', 69: 'Blüte endet', 71: 'Fruchtansatz', 75: 'Frucht halb so groß', 79: 'Frucht bei 70 % und mehr', 81: 'Reife beginnt', 85: 'reifend', 87: 'reif', 89: 'überreif',
    93: 'Blattfall beginnt', 97: 'in Ruhe',
  },
};

const KIND = { variety: 'eine Sorte', place: 'einen Platz', tree: 'einen Baum', round: 'eine Runde', observation: 'einen Besuch', batch: 'Stecklinge' };

export const sayings = {
  noKind: (kind) => `Es gibt keine Einträge der Art ${kind}.`, noField: (field) => `Hier gibt es kein Feld ${field}.`, fill: 'Bitte ausfüllen.', notEmpty: 'Das darf nicht leer bleiben.',
  oneTemperature: 'Die tiefste oder die höchste Temperatur angeben.', crossed: 'Die höchste Temperatur liegt unter der tiefsten; beide prüfen.', whole: 'Eine ganze Zahl angeben.', yesOrNo: 'Mit ja oder nein antworten.',
  oneOf: (values) => `Eins wählen von: ${values}.`, someOf: (values) => `Wählen aus: ${values}.`, record: (kind) => `Bitte ${KIND[kind] ?? kind} wählen.`, records: () => 'Aus der Liste wählen.', most: (count) => `Höchstens ${count} wählen.`,
  monthDay: 'Monat und Tag angeben, die es gibt, als Monat-Tag.', country: 'Ein Land mit drei Buchstaben angeben, etwa ITA.', noHash: 'Das ist kein Fingerabdruck eines Fotos.', text: 'Hier Text schreiben.',
  characters: 'Darin sind Zeichen, die sich nicht behalten lassen; neu schreiben.', shorten: (length) => `Auf ${length} Zeichen kürzen.`, number: 'Eine Zahl angeben.', between: (low, high) => `Eine Zahl zwischen ${low} und ${high} angeben.`,
  day: 'Einen Tag angeben, den es gibt, als Jahr-Monat-Tag.', daysAhead: (days) => `Einen Tag höchstens ${days} Tage voraus angeben.`, time: 'Tag und Zeit angeben, die es gibt, mit ihrem Abstand zu UTC.',
  future: 'Diese Zeit liegt in der Zukunft; sie und die Uhr des Telefons prüfen.', counts: (low, high, places) => `Ganze Zahlen von ${low} bis ${high}, höchstens ${places}; was nicht gefunden wurde, leer lassen.`,
  tagCheck: 'Das letzte Zeichen passt nicht zu den anderen; das Etikett noch einmal lesen.', tagForm: 'Die sechs Zeichen des Etiketts angeben.',
  phoneFull: 'Dieses Telefon hat keinen Platz mehr. Platz schaffen, dann noch einmal speichern; nichts Gespeichertes ist verloren.', storageClosed: 'Diese Seite erreicht ihren Speicher nicht mehr. Bitte neu laden.',
  notStored: (reason) => `Der Speicher des Browsers versagte (${reason}). Noch einmal versuchen; die Tasche sichern, wenn es so bleibt.`, notReadBack: 'Der Browser sagt, es sei gespeichert, aber es lässt sich nicht lesen. Noch einmal versuchen.',
  editsMost: (count) => `Höchstens ${count} Einträge auf einmal speichern.`, outboxFull: (count) => `${count} Einträge warten hier. Abgleichen oder die Tasche sichern, dann noch einmal speichern.`, photosMost: (count) => `Höchstens ${count} Fotos an einen Eintrag hängen.`,
  nothing: 'Nichts wurde eingegeben; erst ein Feld ausfüllen.', photoGone: 'Ein Foto dieses Formulars ist nicht mehr auf diesem Telefon; noch einmal aufnehmen.', photoEmpty: 'Dieses Foto ist leer; noch einmal aufnehmen.',
  photoLarge: 'Ein Foto darf höchstens 25 MB haben; ein kleineres aufnehmen.', photosWait: (count) => `${count} Fotos warten auf diesem Telefon. Erst abgleichen, dann mehr aufnehmen.`, mended: 'Dieser Eintrag ist schon berichtigt oder verworfen.',
  draftLong: (length) => `Dieses Formular ist länger als ${length} Zeichen; die Notizen kürzen.`, draftsMost: (count) => `${count} Formulare sind nicht fertig; erst einige speichern oder verwerfen.`,
  offline: 'Das Zuhause ist nicht erreichbar. Alle Einträge bleiben hier und gehen später.', busy: (status) => `Das Zuhause konnte gerade nicht antworten (${status}). Es wird später wieder versucht.`,
  unknownPhone: 'Das Zuhause kennt dieses Telefon nicht mehr. Neu koppeln.', refused: (status) => `Das Zuhause lehnte es ab (${status}).`, notHome: (status) => `Eine Antwort (${status}) kommt nicht vom Zuhause. Ist es das richtige Netz?`,
  photoNotHere: 'Dieses Foto ist nicht mehr auf dem Telefon.',
};
