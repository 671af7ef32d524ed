// Every line icon of the screens, drawn on a 24 by 24 ground; each always stands beside a word.
import { svg, html } from 'lit-html';

const draw = {
  scan: svg`<path d="M4 8V4h4M16 4h4v4M20 16v4h-4M8 20H4v-4"/><path d="M8 9h5l3 3-3 3H8z"/>`,
  back: svg`<path d="M14 5l-7 7 7 7"/>`,
  on: svg`<path d="M9 5l7 7-7 7"/>`,
  plus: svg`<path d="M12 4v16M4 12h16"/>`,
  minus: svg`<path d="M4 12h16"/>`,
  check: svg`<path d="M4 13l5 5L20 6"/>`,
  close: svg`<path d="M5 5l14 14M19 5L5 19"/>`,
  now: svg`<path d="M3 12c3-5 6-7 9-7s6 2 9 7c-3 5-6 7-9 7s-6-2-9-7z"/><circle cx="12" cy="12" r="2.6"/>`,
  round: svg`<circle cx="5" cy="18" r="2"/><circle cx="19" cy="6" r="2"/><path d="M7 18h8a3 3 0 0 0 0-6H9a3 3 0 0 1 0-6h8"/>`,
  barrow: svg`<path d="M3 6h3l3 9h9l2-7H7"/><circle cx="11" cy="19" r="2"/><path d="M18 15l3 4"/>`,
  tree: svg`<path d="M12 21v-8M12 15l-3-3M12 13l3-3"/><path d="M12 3c5 3 6 8 0 12-6-4-5-9 0-12z"/><path d="M7 21h10"/>`,
  place: svg`<path d="M3 11l9-6 9 6"/><path d="M5 10v10h14V10M12 20v-6"/>`,
  pocket: svg`<path d="M4 5h16v9a8 6 0 0 1-16 0z"/><path d="M4 9h16"/>`,
  settings: svg`<path d="M4 7h9M19 7h1M4 17h1M11 17h9"/><circle cx="16" cy="7" r="2.4"/><circle cx="8" cy="17" r="2.4"/>`,
  torch: svg`<path d="M8 3h8v4l-2 3v11h-4V10L8 7zM8 7h8M12 13v2"/>`,
  photo: svg`<path d="M3 7h4l2-3h6l2 3h4v13H3z"/><circle cx="12" cy="13" r="4"/>`,
  move: svg`<path d="M3 20h7v-6H3zM14 10h7V4h-7z"/><path d="M6 11c0-4 2-6 5-6M9 3l2 2-2 2"/>`,
  work: svg`<path d="M5 4l9 10M19 4l-9 10"/><circle cx="7" cy="17.5" r="3"/><circle cx="17" cy="17.5" r="3"/>`,
  harvest: svg`<path d="M12 7c6 1 8 5 7 9-1 4-4 5-7 5s-6-1-7-5c-1-4 1-8 7-9z"/><path d="M12 7c0-2 1-3 3-4"/>`,
  edit: svg`<path d="M4 20l1-5L16 4l4 4L9 19z"/><path d="M13 7l4 4"/>`,
  tag: svg`<path d="M8 5h12v14H8l-4-4V9z"/><circle cx="9" cy="12" r="1.4"/>`,
  phone: svg`<path d="M7 3h10v18H7zM11 18h2"/>`,
  print: svg`<path d="M7 9V3h10v6M7 17H4V9h16v8h-3"/><path d="M7 14h10v7H7z"/>`,
  search: svg`<circle cx="10" cy="10" r="6"/><path d="M15 15l6 6"/>`,
  file: svg`<path d="M6 3h8l4 4v14H6z"/><path d="M9 13l3 3 3-3M12 9v7"/>`,
  thermometer: svg`<path d="M10 4h4v9a4 4 0 1 1-4 0z"/><path d="M12 9v7"/>`,
  shelters: svg`<path d="M2 20h20M4 20v-6a4 4 0 0 1 8 0v6M12 20V9a4 4 0 0 1 8 0v11"/>`,
  groups: svg`<path d="M3 20h18"/><circle cx="6" cy="8" r="2"/><circle cx="9" cy="14" r="2"/><circle cx="15" cy="11" r="2"/><circle cx="18" cy="5" r="2"/>`,
  season: svg`<path d="M4 20h16M6 20v-5M12 20V6M18 20V11"/><path d="M9 9l3-4 3 4"/>`,
  again: svg`<path d="M5 13a7 7 0 1 0 2-6M7 3v4h4"/>`,
  out: svg`<path d="M4 20V9l6-5M4 20h8V9"/><path d="M11 15h10M17 11l4 4-4 4"/>`,
  learnt: svg`<path d="M5 4h11a3 3 0 0 1 3 3v13H8a3 3 0 0 1-3-3z"/><path d="M5 17a3 3 0 0 1 3-3h11M9 8h6"/>`,
  cutting: svg`<path d="M12 21V6M12 12l-5-4M12 9l5-4"/><path d="M9 21l3-3 3 3"/>`,
  act: svg`<path class="solid" d="M12 3l10 18H2z"/>`,
  watch: svg`<circle cx="12" cy="12" r="8"/><circle class="solid" cx="12" cy="12" r="2.4"/>`,
};

/** Draws one icon by name; it is decoration, so a screen reader passes it by. */
export function icon(name) {
  return html`<svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">${draw[name]}</svg>`;
}
