// Drawn leaves with so many percent of their area damaged, to hold a real one against: a standard area diagram.
import { html, svg } from 'lit-html';
import { choice } from './parts.js';
import { words } from './text.js';

/** The shares shown, about doubling: what an eye tells apart best. */
export const SHARES_PERCENT = [1, 3, 6, 12, 25, 50, 75];
/** More than this is no longer drawn as spots: they would touch. */
const SPOTS_PERCENT_MAX = 25;
const RADIUS = 46;
const OUTLINE = outline();
const AREA = areaOf(OUTLINE);
// Where spots lie, as angle in turns and share of the way to the edge.
const SPOTS = [[0, 0], [0, 0.6], [0.2, 0.6], [0.8, 0.6], [0.4, 0.55], [0.6, 0.55], [0.1, 0.66], [0.9, 0.66]];

/** Five lobes around a heart-shaped base, as a fig's leaf has them; every point is seen from the middle. */
function outline() {
  return Array.from({ length: 180 }, (_, at) => {
    const turn = at / 180;
    const lobes = 0.81 + 0.19 * Math.cos(2 * Math.PI * 5 * turn);
    const base = 1 - 0.4 * Math.exp(-(((turn - 0.5) / 0.035) ** 2));
    return pointAt(turn, RADIUS * lobes * base);
  });
}

/** A point so many turns clockwise from the top, so far from the middle. */
function pointAt(turn, radius) {
  return [50 + radius * Math.sin(2 * Math.PI * turn), 50 - radius * Math.cos(2 * Math.PI * turn)];
}

function areaOf(points) {
  const twice = points.reduce((sum, [x, y], at) => {
    const [nextX, nextY] = points[(at + 1) % points.length];
    return sum + x * nextY - nextX * y;
  }, 0);
  return Math.abs(twice) / 2;
}

const pathOf = (points) => `M${points.map(([x, y]) => `${x.toFixed(2)} ${y.toFixed(2)}`).join('L')}Z`;

/** The same outline, smaller around the middle: what of the leaf is left inside a scorched edge of a given share. */
function inner(share) {
  const scale = Math.sqrt(1 - share);
  return OUTLINE.map(([x, y]) => [50 + (x - 50) * scale, 50 + (y - 50) * scale]);
}

function spots(share) {
  const radius = Math.sqrt((share * AREA) / SPOTS.length / Math.PI);
  return SPOTS.map(([turn, way]) => {
    const [edgeX, edgeY] = OUTLINE[Math.round(turn * 180) % 180];
    return svg`<circle class="lost" cx=${(50 + (edgeX - 50) * way).toFixed(2)} cy=${(50 + (edgeY - 50) * way).toFixed(2)} r=${radius.toFixed(3)}/>`;
  });
}

/**
 * One drawn leaf.
 * @param {number} percent of its outline's area that is damaged
 * @param {'margin' | 'spots'} pattern
 */
export function leafDrawing(percent, pattern) {
  const share = percent / 100;
  return html`<svg class="leafdrawing" viewBox="0 0 100 100" aria-hidden="true" focusable="false">${pattern === 'spots'
    ? svg`<path class="green" d=${pathOf(OUTLINE)}/>${spots(share)}`
    : svg`<path class="lost" d=${pathOf(OUTLINE)}/><path class="green" d=${pathOf(inner(share))}/>`}</svg>`;
}

/**
 * The drawn leaves as keys; a press on one writes its share.
 * @param {{pattern: string}} state kept by the screen
 * @param {string} text what stands in the field
 * @param {(text: string) => void} change
 * @param {() => void} redraw
 */
export function leafChooser(state, text, change, redraw) {
  const pattern = state.pattern ?? 'margin';
  const shares = pattern === 'spots' ? SHARES_PERCENT.filter((percent) => percent <= SPOTS_PERCENT_MAX) : SHARES_PERCENT;
  const patterns = Object.entries(words.drawn.patterns).map(([value, said]) => ({ value, words: said }));
  return html`<details class="drawn" id="drawn-leaves"><summary>${words.drawn.open}</summary>
    ${choice(words.drawn.pattern, 'pattern', patterns, pattern, (value) => { state.pattern = value; redraw(); })}
    <p id="drawn-how">${words.drawn.title}</p>
    <div class="drawings" role="group" aria-labelledby="drawn-how">${shares.map((percent) => html`<button type="button" class="key" aria-pressed=${text === String(percent)}
      aria-label=${words.drawn.alt(percent)} @click=${() => change(String(percent))}>${leafDrawing(percent, pattern)}<span>${words.drawn.percent(percent)}</span></button>`)}</div></details>`;
}
