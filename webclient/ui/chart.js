// A small chart as inline SVG: a dot for what was counted, a band for what can be said, a thin mark for a move or work.
import { html, svg, nothing } from 'lit-html';
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
  return html`<figure>
    <svg class="chart" viewBox="0 0 ${WIDTH} ${HEIGHT}" aria-hidden="true"
      @pointermove=${(event) => tellNearest(event, points, scale, series.unit)}
      @pointerdown=${(event) => tellNearest(event, points, scale, series.unit)}>
      ${axes(scale, series.axis ?? series.unit)}
      ${band.length > 1 ? svg`<path class="band" d=${bandPath(band, scale)} />` : nothing}
      ${spanBar(series.span, last, scale)}
      ${marks.map((mark) => svg`<path class="mark" d="M${scale.x(mark.at)} ${TOP - 6}V${HEIGHT - BOTTOM}" />`)}
      <path class="thread" d=${`M${points.map((p) => `${scale.x(p.at)} ${scale.y(p.value)}`).join('L')}`} />
      ${points.map((p) => svg`<circle class="dot" cx=${scale.x(p.at)} cy=${scale.y(p.value)} r="3.6" />`)}
      <text class="last" x=${scale.x(last.at) + 8} y=${scale.y(last.value) + 6}>${last.value}</text>
    </svg>
    <figcaption class="small soft" aria-hidden="true" .textContent=${caption(series, last, marks)}></figcaption>
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
  const told = words.chart.value(point.value, unit, shortDay(point.at));
  return hasLimits(point) ? `${told} ${words.chart.expected(point.low, point.high)}` : told;
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

/** Writes the value nearest to the finger under the chart. */
function tellNearest(event, points, scale, unit) {
  const box = event.currentTarget.getBoundingClientRect();
  const x = ((event.clientX - box.left) / box.width) * WIDTH;
  const near = points.reduce((best, p) => (Math.abs(scale.x(p.at) - x) < Math.abs(scale.x(best.at) - x) ? p : best));
  event.currentTarget.nextElementSibling.textContent = pointText(near, unit);
}

function table(series, points, marks) {
  const limits = points.some(hasLimits);
  return html`<table class="aside">
    <caption>${series.name}</caption>
    <thead><tr><th scope="col">${words.chart.day}</th><th scope="col">${series.unit}</th>
      ${limits ? html`<th scope="col">${words.chart.expectedName}</th>` : nothing}</tr></thead>
    <tbody>${points.map((p) => html`<tr><th scope="row">${shortDay(p.at)}</th><td>${p.value}</td>
      ${limits ? html`<td>${hasLimits(p) ? words.chart.range(p.low, p.high) : ''}</td>` : nothing}</tr>`)}
      ${marks.map((mark) => html`<tr><th scope="row">${shortDay(mark.at)}</th><td>${mark.what}</td></tr>`)}</tbody>
  </table>`;
}
