// Die deutschen Wörter zu text_years, text_spring, text_measure, text_jobs und text_places; Teil des Katalogs in text_de.js.

const n = (count, one, many) => `${count} ${count === 1 ? one : many}`;
const trees = (count) => n(count, 'Baum', 'Bäume');
const and = (parts) => (parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join(', ')} und ${parts.at(-1)}`);
const range = (low, high) => (low === high ? `Etwa ${low}` : `${low} bis ${high}`);
const capital = (text) => text[0].toUpperCase() + text.slice(1);

const yearWords = {
  learned: {
    title: 'Im Rückblick', asOf: (age, day) => `Vom Zuhause, ${age}, mit allem, was bis ${day} notiert war.`, asking: 'Das Zuhause wird gefragt.',
    away: (reason) => `${reason} Dies sagte das Zuhause zuletzt.`, nothing: (reason) => `${reason} Von früher ist nichts da.`,
    unpaired: 'Das Zuhause vergleicht, was notiert wurde. Erst dieses Telefon koppeln.',
  },

  shelters: {
    title: 'Was der Schutz bewirkte', which: 'Sorte', measure: 'Was', together: (species, count) => `Alle ${count} Sorten, ${species === 'other species' ? 'andere' : species}`,
    measures: {
      growth_cm: { name: 'Triebzuwachs', more: 'mehr', less: 'weniger', said: (amount) => `${amount} Zuwachs` },
      leaves: { name: 'Blätter', more: 'mehr', less: 'weniger', noun: 'Blätter' },
      fruit: { name: 'Früchte', more: 'mehr', less: 'weniger', noun: 'Früchte' },
      yield_g: { name: 'Ertrag', more: 'mehr', less: 'weniger' },
      days_to_ripeness: { name: 'Tage bis zur Reife', more: 'später', less: 'früher', said: (amount) => `reif ${amount}` },
      days_to_ripeness_breba: { name: 'Tage bis zur Reife, Brebas', more: 'später', less: 'früher', said: (amount) => `Brebas reif ${amount}` },
    },
    unit: { g: 'g je Baum', days: 'Tage', leaves: 'Blätter je Baum', fruits: 'Früchte je Baum' },
    inShelter: {
      open: 'im Freien', ground: 'im Boden', shade: 'im Schatten', porch: 'unter dem Vordach', low_tunnel: 'im niedrigen Tunnel',
      polytunnel: 'im Folientunnel', glasshouse: 'im Glashaus', indoors: 'im Haus',
    },
    pair: (shelter, against) => `${shelter} gegen ${against.replace('niedriger', 'niedrigen')}`, headStart: (days) => `Vorsprung von ${days} Tagen gegen keinen`,
    than: (where, amount, other) => `${capital(where)}: ${amount} als ${other}`,
    withHeadStart: (days) => `mit einem Vorsprung von ${days} Tagen`, without: 'ohne',
    between: (low, high) => `zwischen ${low} und ${high}`, sides: (one, other) => `${trees(one)} gegen ${other}`,
    cantTell: 'Noch nicht zu sagen', plain: (amount) => `Nur diese Bäume, ohne andere Sorten: ${amount}.`, same: 'kein Unterschied',
    sure: 'In 9 von 10 solchen Fällen liegt der wahre Unterschied im Band.',
    few: (least) => `Auf einer Seite stehen weniger als ${least} Bäume.`, alike: 'Die Bäume waren alle gleich; so zeigt nichts, was Zufall ist.',
    spread: 'Das Band reicht über null: mehr oder weniger, beides würde passen.',
    told: (some, all) => (all === 1 ? 'Der eine Unterschied lässt sich sagen.' : `${some} von ${all} Unterschieden ${some === 1 ? 'lässt' : 'lassen'} sich sagen.`),
    untold: (all) => (all === 1 ? 'Der eine Unterschied lässt sich noch nicht sagen.' : `Keiner von ${all} Unterschieden lässt sich schon sagen.`),
    reasons: {
      few: (count, least) => `Bei ${count} stehen auf einer Seite weniger als ${least} Bäume.`,
      spread: (count) => `Bei ${count} sind die Bäume untereinander zu verschieden.`,
      alike: (count) => `Bei ${count} waren die Bäume alle gleich; so zeigt nichts, was Zufall ist.`,
    },
    alone: (variety) => `${variety} stand bisher nur unter einem Schutz; es gibt nichts, womit sich vergleichen ließe.`,
    help: 'Mehr Bäume einer Sorte unter beiden zeigen es am ehesten; ein weiteres Jahr auch.',
    each: 'Sorte für Sorte', against: 'Jeder gegen einen anderen', noPair: 'Davon ist bei dieser Sorte noch nichts bekannt.',
    axis: (unit) => `Unterschied, ${unit}`, table: (what, whose) => `${what}, ${whose}: jeder Schutz gegen einen anderen`,
    columns: { pair: 'Gegeneinander', says: 'Was es ändert', low: 'mindestens', high: 'höchstens', trees: 'Bäume' },
    limits: 'Wie weit das trägt',
    limit: [
      'Die Bäume wurden nicht ausgelost. Kamen die stärkeren unter Glas, so erscheint ihre Stärke hier als Werk des Glases.',
      'Ein Baum zählt einmal, für den Schutz, unter dem er von März bis Oktober am längsten stand (im Süden September bis April). Was ein Jahr allen Bäumen tat, ist abgezogen.',
      'Ein Vorsprung ist wache Zeit unter einem wärmeren Schutz, bevor der Baum hinauskam.',
      'Sorten einer Art stützen einander, soweit sie sich einig sind. Ein Band enthält den wahren Unterschied in 9 von 10 Fällen; wo viele betrachtet werden, geht eines von zehn fehl.',
      'Nirgends ist angenommen, welcher Schutz besser sein müsste.',
    ],
    empty: 'Noch nichts zu vergleichen',
    teach: [
      'Zwei oder mehr Bäume einer Sorte unter je zwei Arten von Schutz stellen und dort die meiste Wachstumszeit lassen.',
      'Auf der Karte jedes Platzes angeben, was darüber ist.',
      'Auf den Runden Zuwachs, Blätter und Früchte notieren und die Ernte wiegen.',
    ],
    places: 'Zu den Plätzen',
  },

  season: {
    decide: (variety, count) => `Was aus ${variety} wird, ${trees(count)}`, decided: (what, count) => `${what}: ${trees(count)}.`, follows: 'Arbeiten und Etiketten folgen daraus.', paper: 'Der Rückblick auf Papier',
    title: 'Jahresrückblick', year: 'Wachstumsjahr', runs: (text, over) => `${text}${over ? '' : '; noch nicht vorbei'}.`,
    verdict: { keep: 'Behalten', 'try again': 'Noch einmal', 'let go': 'Abgeben' }, all: 'Alle', show: 'Zeigen', order: 'Reihenfolge',
    orders: { rank: 'beste zuerst', variety: 'nach Sorte', shelter: 'nach Schutz' },
    early: 'Zu früh für ein Urteil', earlyWhy: 'Bisher ist wenig geerntet. Die Ränge stützen sich auf frühere Jahre.',
    rank: (low, high, of) => (low === high ? `${low}. von ${of}` : `zwischen ${low}. und ${high}. von ${of}`), place: (place) => `${place}.`, under: (variety, shelter) => `${variety}, ${shelter}`,
    middle: 'Mitte', rankAxis: (species, count, of) => `${species}: ${count} dieses Jahr gesehen${count === of ? '' : `, eingeordnet unter ${of}`}`,
    gave: (grams) => `${grams} g je Baum`, gaveBetween: (low, high) => `zwischen ${low} und ${high} g`, picked: (count) => `${trees(count)} beerntet`,
    quality: (grade) => `${grade} von 5`, ripe: (days) => `${days} Tage nach dem Austrieb`, each: (count) => `${count} je Baum`, percent: (share) => `${share} % zur schlimmsten Zeit`,
    figure: { yield: 'Ertrag', quality: 'Güte', ripe: 'Reif', troubles: 'Ärger', damage: 'Schaden', care: 'Arbeiten und Umzüge', trees: 'Gesehene Bäume' },
    why: 'Warum', more: 'Mehr', compare: (variety) => `Was der Schutz für ${variety} tat`,
    table: (species) => `${species}: Ränge und Urteile`, columns: { kind: 'Sorte und Schutz', verdict: 'Urteil', rank: 'Rang', low: 'bestenfalls', high: 'schlimmstenfalls' },
    how: 'Wie der Rang entsteht', weigh: 'Was wie viel zählt',
    made: [
      'Jede Sorte unter jedem Schutz wird mit den anderen ihrer Art verglichen, über alle Jahre bis zu diesem.',
      'Der Rang ist unsicher, weil Bäume zufällig verschieden sind: in 9 von 10 Fällen liegt er zwischen den beiden Plätzen.',
      'Ein Urteil braucht zwei Baumjahre mit bekanntem Ertrag und muss sicher genug in der besseren oder schlechteren Hälfte liegen.',
      'Die Bäume wurden nicht ausgelost; ein Rang ist eine Beobachtung, kein Beweis.',
    ],
    counts: (name, percent) => `${name} ${percent} %`,
    weight: { yield_g: 'Ertrag', quality: 'Güte', days_to_ripeness: 'frühe Reife', troubles: 'wenig Ärger', care: 'wenig Arbeit' },
    countsAre: (parts) => `Es zählt ${parts.join(', ')}. Diese Anteile sind einstellbar.`,
    empty: (year) => `${year} wurde nichts gesehen oder geerntet`,
    teach: [
      'Runden gehen: Besuche zeigen Zuwachs, Ärger und wann ein Baum austrieb.',
      'Die Ernte wiegen und mit 1 bis 5 beurteilen; der Ertrag zählt am meisten.',
      'Arbeiten und Umzüge notieren; sie zeigen, wie viel Mühe eine Sorte macht.',
      'Zwei Bäume einer Art, oder einer in zwei Jahren, sind das Mindeste für ein Urteil.',
    ],
    round: 'Zur Runde', none: 'Davon keine.',
  },

  weighing: {
    title: 'Was wie viel zählt', how: 'Keine Veröffentlichung sagt, was eine gute Sorte ist. Jedem Punkt so viele Teile geben, wie er wert ist; null lässt ihn weg.',
    helper: 'Das Zuhause ordnet die Sorten danach. Ändern lässt es sich auf dem Telefon eines Inhabers.', share: (percent) => `Das sind ${percent} % des Ganzen.`,
  },
};

const springWords = {
  pace: {
    title: 'Stand', why: 'Warum', drawnAs: (age) => `Gezeichnet, wie das Zuhause es ${age} sah.`,
    word: { ahead: 'Voraus', 'on pace': 'Im Plan', behind: 'Zurück', unknown: 'Noch nicht zu sagen' },
    now: 'jetzt',
    leaves: (low, high, seen, by) => `${range(low, high)} Blätter je Trieb wären zum ${by} zu erwarten, ${seen} wurden gesehen.`,
    shoots: (low, high, seen, by, unit) => `${range(low, high)} ${unit} Triebzuwachs wären zum ${by} zu erwarten, ${seen} wurden gemessen.`,
    woke: {
      seen: (day, heat) => `Er trieb um den ${day} aus und bekam seither ${heat}.`,
      ofKind: (day, heat) => `Niemand sah ihn austreiben; seinesgleichen trieb um den ${day} aus, seither bekam er ${heat}.`,
      evergreen: (day, heat) => `Er bekam ${heat} seit ${day}.`,
    },
    heat: (sum, unit) => `${sum} Gradtage (°${unit})`,
    guessed: (days) => `An ${n(days, 'Tag', 'Tagen')} davon wurde kein Thermometer abgelesen; dafür steht die übliche Wärme. Ablesen macht es sicherer.`,
    rests: (own, variety, species) => {
      const parts = [own && (own === 1 ? 'einem eigenen früheren Jahr' : `${own} eigenen früheren Jahren`), variety && (variety === 1 ? 'einem anderen Baum der Sorte' : `${variety} anderen Bäumen der Sorte`),
        species && (species === 1 ? 'einem weiteren der Art' : `${species} weiteren der Art`)].filter(Boolean);
      return parts.length ? `Die Erwartung beruht auf ${and(parts)}.` : 'Kein ähnlicher Baum wurde gezählt; erwartet wird nur das Übliche seiner Art.';
    },
    sure: (hundred) => {
      if (hundred >= 99) return 'Kaum einer von hundert gesunden Bäumen wie er läge so weit zurück.';
      if (hundred <= 1) return 'Kaum einer von hundert Bäumen wie er wäre so weit.';
      return `Von hundert Bäumen wie ihm wären etwa ${hundred} weiter.`;
    },
    leavesUnit: 'Blätter je Trieb', leavesAxis: 'Blätter je Trieb', shootsAxis: (unit) => `Triebzuwachs, ${unit}`,
  },
  out: {
    title: 'Hinausbringen',
    none: { tree: 'Dieser Baum ist nicht auf diesem Telefon.', place: 'Hier steht jetzt kein Baum.', barrow: 'Kein Baum ist gewählt. Erst einige scannen.', begun: 'Auf diesem Telefon ist kein Plan begonnen.' },
    underWay: (count) => `Auf dem Weg hinaus: ${trees(count)}`, to: 'Wohin', brightest: 'der hellste Platz draußen',
    asking: 'Das Zuhause rechnet es aus.', away: 'Den Plan macht das Zuhause, und es ist jetzt nicht erreichbar. Ein einmal gesehener Plan bleibt auf diesem Telefon.',
    asOf: (age) => `Vom Zuhause, ${age}.`, stillFrom: (age) => `Das Zuhause ist jetzt nicht erreichbar; dies sagte es ${age}.`,
    begin: 'Heute beginnen', beginOn: (day) => `Am ${day} beginnen`, begun: (day) => `Begonnen am ${day}.`, began: 'Von jetzt an behält der Plan seine Tage, auf diesem Telefon.',
    plan: 'Den Weg planen, Tag für Tag',
    putAway: 'Diesen Plan weglegen', giveUp: 'Diesen Plan aufgeben', giveUpSure: 'Ja, beenden', gaveUp: 'Der Plan ist beendet.',
    way: (from, to) => `Von ${from} nach ${to}`, which: (count) => `Welche ${trees(count)}`,
    days: (count) => n(count, 'Tag', 'Tage'), lasts: (days, day) => `${days}, dann für immer ab ${day}.`, noEnd: (days) => `${days}, und noch kein Ende abzusehen.`,
    todays: (step) => `Heute: ${step}.`, columns: (place) => `Sonne: am Morgen, in ${place}; den übrigen Tag, wo er steht. mol: Licht auf einen Quadratmeter am Tag.`,
    outcome: { go: 'Kein Plan nötig', there: 'Schon draußen', ground: 'Nichts zu tragen', unknown: 'Noch kein Plan' },
    light: (place, mol, percent) => `${place}: ${mol} mol/m² am Tag, ${percent} % des freien Himmels.`, lightTitle: 'Licht', whyTitle: 'Warum so langsam',
    watchTitle: 'Worauf achten', nights: (limit) => `In Nächten unter ${limit} wieder hineinholen.`,
    leaves: 'Werden Blätter bleich, braun oder spröde, einen Schritt zurückgehen, bis neue Blätter gesund bleiben.',
    mol: (light) => `${light} mol`, today: 'Heute', earlier: (count) => `Vergangene Tage (${count})`,
    allDay: (place) => `${place}, den ganzen Tag`, sun: (place, hours, sunPlace) => `${place}, mit ${hours} Morgensonne in ${sunPlace}`, forGood: (place) => `${place}, für immer`,
    coldNight: (place, low) => `In ${place} lassen: ${low} für die Nacht vorhergesagt`, coldDay: (place, high) => `In ${place} lassen: höchstens ${high} vorhergesagt`,
    sunHours: (hours) => `${Math.trunc(hours) || ''}${hours % 1 ? '½' : ''} h Sonne`,
    hours: (hours) => (hours === 0.5 ? 'einer halben Stunde' : hours === 1 ? '1 Stunde' : `${Math.trunc(hours)}${hours % 1 ? '½' : ''} Stunden`),
  },
};

const leaves = (count) => n(count, 'Blatt', 'Blätter');
const measureWords = {
  measure: {
    title: 'Das Blatt darin', how: 'Das Zuhause kann ein Blatt messen, neben dem das Etikett des Topfs oder besser die gedruckte Karte flach liegt.',
    key: 'Das Blatt messen', again: 'Noch einmal fragen', asking: 'Das Zuhause misst.', away: (reason) => `Nicht gemessen. ${reason}`,
    by: { tag: 'Nach dem Etikett daneben', card: 'Nach der gedruckten Karte' },
    counted: (count) => `${leaves(count)} gezählt: eine Linie führt um das Blatt, und was als Schaden zählt, ist schraffiert.`,
    leaf: (at) => `Blatt ${at}`, figures: (area, damage) => `${area} cm², ${damage} % Schaden`, together: 'Alle zusammen',
    picture: 'Das Blatt von oben; Linie und Schraffur zeigen, was gezählt wurde. Die Zahlen stehen darunter und lassen sich überschreiben.',
    tool: 'Falsch? Mit dem Finger nachziehen', tools: { none: 'Ansehen', damage: 'Schaden', healthy: 'Gesund', ground: 'Kein Blatt' },
    brush: 'Finger', brushes: { small: 'fein', large: 'breit' }, undo: 'Letzten Strich zurück', afresh: 'Wie vom Zuhause',
    area: 'Fläche eines Blatts, cm²', damage: 'Schaden, %', take: 'Diese Zahlen nehmen', taken: 'Der Besuch hat jetzt diese Zahlen.', back: 'Der Besuch hat seine früheren Zahlen.',
    number: (low, high) => `Eine Zahl zwischen ${low} und ${high} angeben.`,
    card: 'Die Messkarte drucken', noTree: 'Dieses Foto gehört zu keinem Baum; seine Zahlen lassen sich nicht notieren.',
  },
  inView: {
    reading: 'Ein Code wird gesucht.', seen: 'Ein Code ist im Bild: das Zuhause kann dieses Blatt messen.',
    none: 'Kein Code im Bild. Zum Messen das Blatt flach neben Etikett oder Karte legen und noch einmal aufnehmen.',
  },
  drawn: {
    open: 'Mit gezeichneten Blättern vergleichen', title: 'Welches sieht aus wie die meisten seiner Blätter?', pattern: 'Der Schaden gleicht', patterns: { margin: 'verbranntem Rand', spots: 'Flecken' },
    percent: (percent) => `${percent} %`, alt: (percent) => `Ein Blatt, von dem ${percent} Prozent beschädigt sind`,
  },
};

const jobWords = {
  job: {
    title: 'Arbeiten', add: 'Eine Arbeit hinzufügen', none: 'Nichts ist zu tun. Arbeiten kommen aus den Befunden, aus der Jahreszeit und aus eigenen Einträgen.',
    when: { late: 'Überfällig', today: 'Heute', week: 'Innerhalb einer Woche', later: 'Später', some: 'Wenn Zeit ist' },
    open: (count) => n(count, 'Arbeit ist offen', 'Arbeiten sind offen'), ofTree: 'Hier zu tun', due: (day) => `bis ${day}`, all: (count) => `Alle ${trees(count)}`,
    done: 'Erledigt', put: 'In drei Tagen', otherDay: 'Anderer Tag', tomorrow: 'Morgen', aWeek: 'In einer Woche', untilDay: 'Bis zu diesem Tag', putOff: 'Verschieben', drop: 'Fallen lassen', sheet: 'Den Zettel drucken', edit: 'Ändern', note: 'Die Arbeit notieren',
    said: { done: 'Erledigt.', put: (day) => `Verschoben auf ${day}.`, drop: 'Fallen gelassen.' }, amount: (count) => `${n(count, 'Frucht', 'Früchte')} im Ganzen`,
    plan: 'Töpfe sind schrittweise auf dem Weg hinaus.', toPlan: 'Die Schritte ansehen',
    calendar: 'Kalender', calendarHow: 'Ein Kalenderprogramm kann die Arbeiten von selbst zeigen. Wer die Adresse hat, kann sie lesen; also hüten. Eine neue beendet die alte.',
    calendarMake: 'Eine Adresse machen', calendarMade: 'Diese Adresse jetzt dem Kalenderprogramm geben; sie wird nur einmal gezeigt.', calendarShut: 'Den Kalender schließen', calendarIsShut: 'Der Kalender ist geschlossen.',
  },
  lesson: {
    title: 'Lehren', add: 'Eine Lehre hinzufügen', none: 'Aufschreiben, was gelernt wurde und wann es wiederkommen soll: an einem Tag im Jahr, bei einer Wärmesumme oder mit einer Arbeit.',
    now: 'In anderen Jahren gelernt', heeded: 'Beherzigt', said: 'Sie kommt nächstes Jahr wieder.', forTask: 'Früher gelernt', add1: 'Eine Lehre daraus notieren',
    when: { day: (day) => `um den ${day}`, heat: (sum) => `bei ${sum} Gradtagen`, task: (task) => `mit: ${task}`, never: 'keine Zeit angegeben' },
  },
  batch: {
    title: 'Stecklinge', add: 'Stecklinge hinzufügen', none: 'Beim Schneiden notieren: wie viele, wovon, und später, wie viele wurzelten.',
    rate: (rooted, taken, low, high) => `${rooted} von ${taken} bewurzelt: zwischen ${low} und ${high} von hundert`, open: (rooted, taken) => `bisher ${rooted} von ${taken} bewurzelt`,
    from: (code) => `von ${code}`, add1: 'Stecklinge schneiden',
    caution: 'Saft und Sonne zusammen können Blasen auf der Haut machen; Klingen schneiden. Stecklinge, die den eigenen Platz verlassen, können einen Pflanzenpass brauchen: darüber entscheiden die örtlichen Vorschriften zur Pflanzengesundheit.',
  },
};

const placeWords = {
  filein: {
    busy: 'Das Zuhause liest', logger: 'Datei eines Messgeräts einlesen',
    readings: ({ new: made, changed, unchanged, left_out: left }) => `${made} ${made === 1 ? 'Tag' : 'Tage'} neu, ${changed} geändert, ${unchanged} wie zuvor.${left.length ? ` Ausgelassen, zu wenige Werte: ${left.map((day) => day.date).join(', ')}` : ''}`,
    back: (count, left) => `${count} zurückgenommen.${left ? ` ${left} blieben: etwas ruht nun darauf.` : ''}`,
    asks: { column: 'Welche Spalte ist die Temperatur?', time_column: 'Welche Spalte ist die Zeit?', unit: 'Celsius oder Fahrenheit?', day_order: 'Das erste unklare Datum: Welcher Tag ist gemeint?' },
  },
  trade: {
    title: 'Weitergeben und tauschen', note: 'Die Liste nennt, was bewurzelt ist, was abzugeben ist und was wächst; keinen Ort und keine Person. Pässe folgen dem Standard der Genbanken.',
    'offers.pdf': 'Liste zum Weitergeben', 'passports.csv': 'Pässe der Bäume', bring: 'Pässe einlesen',
  },
  beginning: {
    title: 'Mit den eigenen Bäumen beginnen', places: 'Die Plätze anlegen, an denen Töpfe stehen', placesWhy: 'ein Gewächshaus, eine Veranda, eine Reihe im Hof; was jeden deckt und ob er beheizt ist',
    tags: 'Leere Etiketten drucken', tagsWhy: 'eines je Topf, auf Papier oder gekaufte Etiketten', scan: 'Ein Etikett an einem Topf scannen', scanWhy: 'ein Code, den noch kein Baum hat, öffnet einen neuen Baum, ausgefüllt nach dem vorigen',
    lists: 'Oder eine Liste mitbringen: leafwalk import, am Rechner zu Hause.', helper: 'Noch ist kein Baum hier. Plätze und Bäume legt der Besitzer an; nach dem Abgleich sind sie da.',
    noPlace: 'Ein Platz ist, wo Töpfe beieinander stehen und gleich viel Licht und Wärme bekommen. Bäume ziehen von einem zum anderen, und das Zuhause lernt, was jeder mit ihnen macht.',
  },
  walk: {
    title: 'Reihenfolge beim Gehen', key: 'Die Reihenfolge setzen', how: 'Eine Zeile am Etikett ziehen, die Pfeile nehmen, oder die Töpfe in der Folge scannen, in der sie am Weg stehen.',
    up: (code) => `${code} eins früher`, down: (code) => `${code} eins später`, scan: 'Der Reihe nach scannen', save: 'Diese Reihenfolge behalten', saved: 'Die Reihenfolge ist gespeichert.',
    none: 'Hier steht jetzt kein Baum.', scanned: (count) => `${count} der Reihe nach gescannt`, toList: 'Zur Liste', away: (code) => `${code} steht nicht hier. Erst umstellen.`,
  },
  thermo: {
    open: (count) => (count === 1 ? 'Ein Thermometer ist heute nicht abgelesen' : `${count} Thermometer sind heute nicht abgelesen`), how: 'Tiefste und höchste seit dem letzten Zurückstellen; sie gelten für heute. Leer lassen, was nicht abgelesen wurde.',
    save: 'Die Ablesungen speichern', saved: (count) => (count === 1 ? 'Eine Ablesung gespeichert.' : `${count} Ablesungen gespeichert.`), low: (place) => `${place}: tiefste`, high: (place) => `${place}: höchste`,
  },
};

export const furtherWords = { ...yearWords, ...springWords, ...measureWords, ...jobWords, ...placeWords };
