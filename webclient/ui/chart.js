// A small chart as inline SVG: a dot for what was counted, a band for what can be said, a thin mark for a move or work.
import { html, svg, nothing } from 'lit-html';
import { formatNumber } from '../core/units.js';
import { words } from './text.js';
import { shortDay } from './format.js';

const WIDTH = 358;
const HEIGHT = 136;
const LEFT = 44;
const RIGHT = 52;
const TOP = 24;
const BOTTOM = 26;
const POINTS_MAX = 60;

/**
 * @param {{points: Array<{at: number, value: number, low?: number, high?: number}>, band?: Array<{at: number, low: number, high: number}>,
 *   span?: {low: number, high: number}|null, marks?: Array<{at: number, what: string}>, from?: number, to?: number, most?: number, unit: string, axis?: string,
 *   name: string}} series times in ms; a point's low and high are what was expected there; `from`: where to begin if not at
 *   the first point; `to`: where to end at least; `most`: how many of the last points are drawn; `axis`: what to write at the value axis instead of the unit
 */
export function chart(series) {
  const points = series.points.slice(-(series.most ?? POINTS_MAX));
  if (points.length === 0) return nothing;
  const from = Math.min(series.from ?? Infinity, points[0].at);
  const marks = (series.marks ?? []).filter((mark) => mark.at >= from);
  const band = (series.band ?? []).filter((b) => b.at >= from).sort((a, b) => a.at - b.at);
  const scale = scaleOf(series.to, points, series.span ? [...band, { at: points.at(-1).at, ...series.span }] : band, marks);
  const last = points.at(-1);
  const told = caption(series, last, marks);
  const tell = (svgOf, at) => tellPoint(svgOf, at, { points, marks, scale, unit: series.unit });
  return html`<figure>
    <svg class="chart" viewBox="0 0 ${WIDTH} ${HEIGHT}" tabindex="0" role="slider" aria-label=${series.name}
      aria-valuemin="1" aria-valuemax=${points.length} aria-valuenow=${points.length} aria-valuetext=${told}
      @keydown=${(event) => stepByKey(event, points.length, tell)}
      @pointermove=${(event) => tell(event.currentTarget, nearest(event, points, scale))}
      @pointerdown=${(event) => tell(event.currentTarget, nearest(event, points, scale))}>
      ${axes(scale, series.axis ?? series.unit)}
      ${band.length > 1 ? svg`<path class="band" d=${bandPath(band, scale)} />` : nothing}
      ${spanBar(series.span, last, scale)}
      ${marks.map((mark) => svg`<path class="mark" d="M${scale.x(mark.at)} ${TOP - 6}V${HEIGHT - BOTTOM}" />`)}
      <path class="thread" d=${`M${points.map((p) => `${scale.x(p.at)} ${scale.y(p.value)}`).join('L')}`} />
      ${points.map((p) => svg`<circle class="dot" cx=${scale.x(p.at)} cy=${scale.y(p.value)} r="3.6" />`)}
      <circle class="here" cx=${scale.x(last.at)} cy=${scale.y(last.value)} r="8" />
      <text class="last" x=${scale.x(last.at) + 8} y=${scale.y(last.value) + 6}>${formatNumber(last.value)}</text>
    </svg>
    <figcaption class="small soft" aria-hidden="true" .textContent=${told}></figcaption>
    ${table(series, points, marks)}
  </figure>`;
}

/** What can be said of the value now, as a band around the last dot. */
function spanBar(span, last, scale) {
  if (!span) return nothing;
  const top = scale.y(Math.min(span.high, scale.most));
  return svg`<rect class="band" x=${scale.x(last.at) - 7} y=${top} width="14" height=${Math.max(2, scale.y(span.low) - top)} />`;
}

function caption(series, last, marks) {
  const mark = marks.at(-1);
  const base = pointText(last, series.unit);
  return mark ? `${base} ${words.chart.mark(mark.what, shortDay(mark.at))}` : base;
}

function pointText(point, unit) {
  const told = words.chart.value(formatNumber(point.value), unit, shortDay(point.at));
  return hasLimits(point) ? `${told} ${words.chart.expected(formatNumber(point.low), formatNumber(point.high))}` : told;
}

function hasLimits({ low, high }) {
  return typeof low === 'number' && typeof high === 'number';
}

/** Linear scales over everything drawn; the value axis starts at nought, so that a fall looks as large as it is. */
function scaleOf(end, points, band, marks) {
  const times = [...points, ...band, ...marks].map((p) => p.at);
  const from = Math.min(...times);
  const to = Math.max(...times, end ?? 0, from + 86400000);
  const most = Math.max(...points.map((p) => p.value), ...band.map((b) => b.high), 1);
  const round = (n) => Math.round(n * 10) / 10;
  return {
    from, to, most,
    x: (at) => round(LEFT + ((at - from) / (to - from)) * (WIDTH - LEFT - RIGHT)),
    y: (value) => round(HEIGHT - BOTTOM - (value / most) * (HEIGHT - TOP - BOTTOM)),
  };
}

function axes(scale, unit) {
  const base = HEIGHT - BOTTOM;
  return svg`<path class="axis" d="M${LEFT} ${TOP}V${base}H${WIDTH - RIGHT}" fill="none" />
    <text x="0" y="14">${unit}</text>
    <text x=${LEFT - 6} y=${TOP + 14} text-anchor="end">${Math.round(scale.most)}</text>
    <text x=${LEFT - 6} y=${base} text-anchor="end">0</text>
    <text x=${LEFT} y=${HEIGHT - 6}>${shortDay(scale.from)}</text>
    <text x=${WIDTH - RIGHT} y=${HEIGHT - 6} text-anchor="end">${shortDay(scale.to)}</text>`;
}

function bandPath(band, scale) {
  const upper = band.map((b) => `${scale.x(b.at)} ${scale.y(b.high)}`);
  const lower = band.toReversed().map((b) => `${scale.x(b.at)} ${scale.y(b.low)}`);
  return `M${upper.join('L')}L${lower.join('L')}Z`;
}

/** Which point is nearest to the finger. */
function nearest(event, points, scale) {
  const box = event.currentTarget.getBoundingClientRect();
  const x = ((event.clientX - box.left) / box.width) * WIDTH;
  const away = (p) => Math.abs(scale.x(p.at) - x);
  return points.reduce((best, p, at) => (away(p) < away(points[best]) ? at : best), 0);
}

/** Where each key leads from a point, of so many. */
const KEYS = {
  ArrowLeft: (at) => at - 1, ArrowDown: (at) => at - 1, ArrowRight: (at) => at + 1, ArrowUp: (at) => at + 1, Home: () => 0, End: (at, count) => count - 1,
};

function stepByKey(event, count, tell) {
  const step = KEYS[event.key];
  if (!step || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  const at = Number(event.currentTarget.getAttribute('aria-valuenow')) - 1;
  tell(event.currentTarget, Math.min(count - 1, Math.max(0, step(at, count))));
}

/** Rings a point and writes its value under the chart, with what was done since the point before; a screen reader says the same. */
function tellPoint(drawn, at, { points, marks, scale, unit }) {
  const [before, point] = [points[at - 1]?.at ?? -Infinity, points[at]];
  const done = marks.filter((mark) => mark.at > before && mark.at <= point.at).map((mark) => words.chart.mark(mark.what, shortDay(mark.at)));
  const text = [pointText(point, unit), ...done].join(' ');
  const ring = drawn.querySelector('.here');
  ring.setAttribute('cx', scale.x(point.at));
  ring.setAttribute('cy', scale.y(point.value));
  drawn.setAttribute('aria-valuenow', at + 1);
  drawn.setAttribute('aria-valuetext', text);
  drawn.nextElementSibling.textContent = text;
}

function table(series, points, marks) {
  const limits = points.some(hasLimits);
  return html`<table class="aside">
    <caption>${series.name}</caption>
    <thead><tr><th scope="col">${words.chart.day}</th><th scope="col">${series.unit}</th>
      ${limits ? html`<th scope="col">${words.chart.expectedName}</th>` : nothing}</tr></thead>
    <tbody>${points.map((p) => html`<tr><th scope="row">${shortDay(p.at)}</th><td>${formatNumber(p.value)}</td>
      ${limits ? html`<td>${hasLimits(p) ? words.chart.range(formatNumber(p.low), formatNumber(p.high)) : ''}</td>` : nothing}</tr>`)}
      ${marks.map((mark) => html`<tr><th scope="row">${shortDay(mark.at)}</th><td>${mark.what}</td></tr>`)}</tbody>
  </table>`;
}
