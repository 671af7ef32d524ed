// Die deutschen Wörter zu text_life; Teil des Katalogs in text_de.js.

export const lifeWords = {
  groups: {
    title: 'Zwei Gruppen verglichen', how: 'Wählen, was gemessen wird, wonach die Bäume gruppiert sind, und welche zwei Gruppen verglichen werden.',
    species: 'Art', by: 'Gruppiert nach', kinds: { variety: 'Sorte', shelter: 'Schutz', pot: 'Topfgröße', year: 'Wuchsjahr', head_start: 'Vorsprung' },
    first: 'Die eine', second: 'Die andere', group: (said, count) => `${said} (${count})`, none: 'Noch keine zwei Gruppen, von denen das gemessen wurde',
    alike: 'Vielleicht ein und dieselbe', dots: 'Ein Punkt für jeden Baum, ein Strich beim Mittel. Was ein Jahr mit allen machte, ist abgezogen, außer wo Jahre verglichen werden.', mean: 'Mittel',
  },
  show: {
    key: 'Ein Bild zum Zeigen', title: 'Ein Bild zum Zeigen', how: 'Wählen, was andere sehen dürfen. Plätze, Personen und Codes sind nicht darin, außer ein Foto zeigt sie oder Sie schreiben sie hinein.',
    heading: 'Überschrift', caption: 'Was Sie dazu sagen', photos: (most) => `Fotos, bis zu ${most}`, dates: 'Tage unter den Fotos', noPhoto: 'Noch gibt es kein Foto zu wählen.', plots: 'Kurven und Zahlen',
    make: 'Das Bild machen', making: 'Das Bild entsteht.', made: 'Das Bild', alt: (title) => `Das Bild „${title}“`, save: 'Speichern', share: 'Weitergeben', file: 'leafwalk.jpg',
    failed: (reason) => `Es entstand kein Bild: ${reason} Die Auswahl bleibt.`, round: (day) => `Eine Runde am ${day}`, season: (year) => `Die Saison ${year}`, ranks: (species) => `Ränge der Sorten: ${species}`,
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
