// Draws one picture from a title, photos and plots, to be shown to others; nothing stands in it that was not given.
import { shortDay } from './format.js';
import { formatNumber } from '../core/units.js';

/** What is printed to be shown is light, whatever the screen is. */
const PAPER = '#fffaf0';
const INK = '#14231b';
const SOFT = '#3b4a40';
const BAND = '#d5dfbf';
const GREEN = '#1f5a2c';

const WIDTH = 1200;
const EDGE = 56;
const INNER = WIDTH - 2 * EDGE;
const GAP = 20;
const PLOT_HEIGHT = 330;
const BAR_HEIGHT = 52;
const LABEL_WIDTH = 460;
const FONT = 'system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", sans-serif';

/**
 * @typedef {{name: string, unit: string, points: Array<{at: number, value: number}>, band?: Array<{at: number, low: number, high: number}>}} Series
 * @typedef {{name: string, most: number, rows: Array<{label: string, value: number, low: number, high: number}>}} Bars a dot and its
 *   interval for each row, on one axis from 1 to `most`
 * @param {{title: string, caption: string, photos: Array<{file: Blob, below: string}>, plots: Array<Series|Bars>, lines: string[]}} chosen
 * @returns {Promise<Blob>} a JPEG, 1200 px wide; rejects where a photo can't be read
 */
export async function drawPicture({ title, caption, photos, plots, lines }) {
  const images = await Promise.all(photos.map(async ({ file, below }) => ({ image: await imageOf(file), below })));
  const canvas = document.createElement('canvas');
  const pen = canvas.getContext('2d');
  const parts = [...textParts(pen, title, 54, 700, INK), ...textParts(pen, caption, 32, 400, INK), ...photoParts(images), ...plots.map((plot) => (plot.rows ? barsPart(plot) : seriesPart(plot))),
    ...lines.flatMap((line) => textParts(pen, line, 32, 400, INK))];
  canvas.width = WIDTH;
  canvas.height = Math.round(2 * EDGE + parts.reduce((sum, part) => sum + part.height, 0));
  pen.fillStyle = PAPER;
  pen.fillRect(0, 0, canvas.width, canvas.height);
  let top = EDGE;
  for (const part of parts) {
    part.draw(pen, top);
    top += part.height;
  }
  return new Promise((done, failed) => {
    canvas.toBlob((blob) => (blob ? done(blob) : failed(new Error('the browser made no picture'))), 'image/jpeg', 0.9);
  });
}

async function imageOf(file) {
  const image = new Image();
  image.src = URL.createObjectURL(file);
  try {
    await image.decode();
  } finally {
    URL.revokeObjectURL(image.src);
  }
  return image;
}

function write(pen, text, x, y, { size = 28, weight = 400, colour = SOFT, align = 'left' } = {}) {
  Object.assign(pen, { font: `${weight} ${size}px ${FONT}`, fillStyle: colour, textAlign: align, textBaseline: 'alphabetic' });
  pen.fillText(text, x, y);
}

/** A text as lines that fit; a word too long for a line is cut. */
function textParts(pen, text, size, weight, colour) {
  pen.font = `${weight} ${size}px ${FONT}`;
  const rows = [];
  for (let word of text.split(/\s+/).filter(Boolean)) {
    while (pen.measureText(word).width > INNER) {
      let cut = word.length - 1;
      while (cut > 1 && pen.measureText(word.slice(0, cut)).width > INNER) cut -= 1;
      rows.push(word.slice(0, cut));
      word = word.slice(cut);
    }
    const longer = rows.length ? `${rows.at(-1)} ${word}` : word;
    if (rows.length && pen.measureText(longer).width <= INNER) rows[rows.length - 1] = longer;
    else rows.push(word);
  }
  return rows.map((row, at) => ({ height: size * 1.35 + (at === rows.length - 1 ? GAP : 0), draw: (to, top) => write(to, row, EDGE, top + size, { size, weight, colour }) }));
}

/** One photo whole, two or four in two columns, more in three, each cut to a square about its middle. */
function photoParts(images) {
  if (images.length === 0) return [];
  if (images.length === 1) {
    const [{ image }] = images;
    const scale = Math.min(INNER / image.naturalWidth, 1400 / image.naturalHeight);
    return [photoRow(images, image.naturalWidth * scale, image.naturalHeight * scale)];
  }
  const columns = images.length === 2 || images.length === 4 ? 2 : 3;
  const side = (INNER - GAP * (columns - 1)) / columns;
  return Array.from({ length: Math.ceil(images.length / columns) }, (_, row) => photoRow(images.slice(row * columns, (row + 1) * columns), side, side));
}

function photoRow(images, width, height) {
  const below = images.some((one) => one.below) ? 44 : 0;
  return {
    height: height + below + GAP,
    draw(pen, top) {
      images.forEach(({ image, below: text }, at) => {
        const left = EDGE + at * (width + GAP);
        const scale = Math.max(width / image.naturalWidth, height / image.naturalHeight);
        const [w, h] = [width / scale, height / scale];
        pen.drawImage(image, (image.naturalWidth - w) / 2, (image.naturalHeight - h) / 2, w, h, left, top, width, height);
        write(pen, text, left, top + height + 34);
      });
    },
  };
}

function line(pen, points, { colour = INK, width = 3 } = {}) {
  pen.beginPath();
  points.forEach(([x, y], at) => (at ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  Object.assign(pen, { strokeStyle: colour, lineWidth: width, lineJoin: 'round', lineCap: 'round' });
  pen.stroke();
}

function dot(pen, x, y) {
  pen.beginPath();
  pen.arc(x, y, 7, 0, 2 * Math.PI);
  pen.fillStyle = GREEN;
  pen.fill();
}

/** The same drawing as on the screens: dots, a thread, the band of what can be said, both ends of each axis written. */
function seriesPart({ name, unit, points, band = [] }) {
  const times = [...points, ...band].map(({ at }) => at);
  const [from, to] = [Math.min(...times), Math.max(...times, Math.min(...times) + 86_400_000)];
  const most = Math.max(1, ...points.map(({ value }) => value), ...band.map(({ high }) => high));
  const [left, right, high, low] = [EDGE + 80, WIDTH - EDGE - 110, 80, PLOT_HEIGHT - 60];
  const x = (at) => left + ((at - from) / (to - from)) * (right - left);
  return {
    height: PLOT_HEIGHT + GAP,
    draw(pen, top) {
      const y = (value) => top + low - (value / most) * (low - high);
      write(pen, name.toLowerCase().includes(unit.toLowerCase()) ? name : `${name}, ${unit}`, EDGE, top + 36, { size: 34, weight: 600, colour: INK });
      if (band.length > 1) {
        const sorted = band.toSorted((a, b) => a.at - b.at);
        pen.beginPath();
        for (const { at, high: value } of sorted) pen.lineTo(x(at), y(value));
        for (const { at, low: value } of sorted.toReversed()) pen.lineTo(x(at), y(value));
        pen.fillStyle = BAND;
        pen.fill();
      }
      line(pen, [[left, top + high - 10], [left, top + low], [right, top + low]], { colour: SOFT, width: 2 });
      line(pen, points.map(({ at, value }) => [x(at), y(value)]));
      for (const { at, value } of points) dot(pen, x(at), y(value));
      write(pen, formatNumber(most, 0), left - 12, top + high + 10, { align: 'right' });
      write(pen, '0', left - 12, top + low, { align: 'right' });
      write(pen, shortDay(from), left, top + low + 40);
      write(pen, shortDay(to), right, top + low + 40, { align: 'right' });
      const last = points.at(-1);
      write(pen, formatNumber(last.value, 1), x(last.at) + 16, y(last.value) + 10, { size: 32, weight: 600, colour: INK });
    },
  };
}

/** A row each, the best first: a dot in its interval. */
function barsPart({ name, most, rows }) {
  const [left, right] = [EDGE + LABEL_WIDTH, WIDTH - EDGE - 20];
  const x = (value) => left + ((value - 1) / Math.max(1, most - 1)) * (right - left);
  return {
    height: 70 + rows.length * BAR_HEIGHT + 50 + GAP,
    draw(pen, top) {
      write(pen, name, EDGE, top + 36, { size: 34, weight: 600, colour: INK });
      rows.forEach(({ label, value, low, high }, at) => {
        const y = top + 70 + (at + 0.5) * BAR_HEIGHT;
        write(pen, shortened(pen, label, LABEL_WIDTH - 30), EDGE, y + 10, { colour: INK });
        line(pen, [[x(low), y], [x(high), y]], { colour: BAND, width: 18 });
        dot(pen, x(value), y);
      });
      const base = top + 70 + rows.length * BAR_HEIGHT;
      line(pen, [[left, base], [right, base]], { colour: SOFT, width: 2 });
      write(pen, '1', left, base + 38);
      write(pen, formatNumber(most, 0), right, base + 38, { align: 'right' });
    },
  };
}

function shortened(pen, text, width) {
  pen.font = `400 28px ${FONT}`;
  let kept = text;
  while (kept.length > 1 && pen.measureText(kept).width > width) kept = `${kept.replace(/…$/, '').slice(0, -1)}…`;
  return kept;
}

