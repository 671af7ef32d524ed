// Die deutschen Wörter, über die englischen von text.js gelegt; was hier fehlt, bleibt englisch.

export const decimalSign = ',';

export const words = {
  back: 'Zurück',
  close: 'Schließen',
  save: 'Speichern',
  saved: 'Gespeichert.',
  undo: 'Zurücknehmen',
  undone: 'Zurückgenommen.',
  more: (count) => `Mehr zeigen (noch ${count})`,
  screens: {
    now: 'Jetzt', round: 'Runde', barrow: 'Karre', trees: 'Bäume', places: 'Plätze', pocket: 'Tasche',
    settings: 'Einstellungen', index: 'Übersicht', scan: 'Scannen',
  },
  settings: { length: 'Länge', volume: 'Töpfe und Wasser', temperature: 'Temperatur', theme: 'Hell oder dunkel', language: 'Sprache' },
  theme: { auto: 'Wie das Telefon', light: 'Hell', dark: 'Dunkel' },
};

export const choices = {
  COVERS: {
    open: 'offen', shade: 'Schatten', porch: 'Vordach', glasshouse: 'Glashaus', polytunnel: 'Folientunnel',
    low_tunnel: 'niedriger Tunnel', indoors: 'im Haus', ground: 'im Boden',
  },
};

export const sayings = { fill: 'Bitte ausfüllen.' };
