// Die deutschen Wörter zu text_life; Teil des Katalogs in text_de.js.

export const lifeWords = {
  groups: {
    title: 'Zwei Gruppen verglichen', how: 'Wählen, was gemessen wird, wonach die Bäume gruppiert sind, und welche zwei Gruppen verglichen werden.',
    species: 'Art', by: 'Gruppiert nach', kinds: { variety: 'Sorte', shelter: 'Schutz', pot: 'Topfgröße', year: 'Wuchsjahr', head_start: 'Vorsprung' },
    first: 'Die eine', second: 'Die andere', group: (said, count) => `${said} (${count})`, none: 'Noch keine zwei Gruppen, von denen das gemessen wurde',
    alike: 'Vielleicht ein und dieselbe', dots: 'Ein Punkt für jeden Baum, ein Strich beim Mittel. Was ein Jahr mit allen machte, ist abgezogen, außer wo Jahre verglichen werden.', mean: 'Mittel',
  },
  life: {
    title: (code) => `${code}, sein ganzes Leben`, key: 'Sein ganzes Leben', years: 'Welche Zeit', all: 'Alles',
    photos: 'Zwei Tage verglichen', earlier: 'Links', later: 'Rechts', slide: 'Die Kante zwischen den beiden Fotos verschieben', few: 'Fotos von zwei verschiedenen Tagen lassen sich hier übereinanderlegen. Ab und zu bei einem Besuch eines aufnehmen.',
    alt: (day) => `Der Baum am ${day}`, fetching: 'Das Foto kommt vom Zuhause.', open: (day) => `Das Foto vom ${day} öffnen`,
    leaves: 'Blätter', shoots: 'Triebwachstum', fruit: 'Früchte am Baum', health: 'Gesundheit', healthUnit: 'von 100', fruitUnit: 'Früchte', marks: 'Dünne Linien stehen für Umzüge und Arbeiten.',
    nothing: 'In dieser Zeit wurde nichts gezählt.', asking: 'Gesundheit und Gefährten kommen vom Zuhause.', away: (reason) => `${reason} Gesundheit und Gefährten fehlen.`,
    among: 'Unter seinen Gefährten', who: (count, place) => (place ? `Verglichen mit ${count} Bäumen seiner Art in ${place}.` : `Verglichen mit allen ${count} Bäumen seiner Art.`), alone: 'Zu wenige Bäume seiner Art wurden zuletzt gezählt, um ihn daran zu messen.',
    measure: { health: 'Gesundheit', leaves: 'Blätter', change_percent_per_week: 'Blätter, Prozent je Woche', shoot_cm: 'Triebwachstum' },
    rank: (place, of, value, middle) => `${value}: ${place} von ${of}; der mittlere Baum ${middle}`,
    stood: 'Plätze, Töpfe und Etiketten', pot: (size) => `Topf mit ${size}`, tagged: 'Etiketten', from: (day) => `ab ${day}`, start: 'von Anfang an',
  },
};
