// What was counted on a measured leaf, pixel by pixel: drawn over the picture, redrawn with a finger, and counted again.

/** A pixel is 0 beside the leaves, n on leaf n, and so much more where that leaf is damaged or gone. */
const DAMAGED = 100;
const STROKES_MAX = 20;
const OUTLINE = [255, 253, 244, 255];
const HATCH_DARK = [122, 28, 16, 235];
const HATCH_LIGHT = [255, 214, 170, 150];

/**
 * @param {Blob} png the mask as home sends it
 * @returns {Promise<object>} width, height, pixels as home drew them, and as they are now
 */
export async function readMask(png) {
  const bitmap = await createImageBitmap(png, { colorSpaceConversion: 'none' });
  const { width, height } = bitmap;
  const canvas = Object.assign(document.createElement('canvas'), { width, height });
  const context = canvas.getContext('2d', { willReadFrequently: true });
  context.drawImage(bitmap, 0, 0);
  bitmap.close();
  const { data } = context.getImageData(0, 0, width, height);
  const drawn = Uint8Array.from({ length: width * height }, (_, at) => data[4 * at]);
  return { width, height, drawn, now: drawn.slice(), strokes: [], counts: countsOf(drawn) };
}

/** How many pixels each leaf has, and how many of them are damaged, by the leaf's number. */
function countsOf(pixels) {
  const counts = new Map();
  for (const value of pixels) {
    if (value === 0) continue;
    const leaf = value > DAMAGED ? value - DAMAGED : value;
    const known = counts.get(leaf) ?? { whole: 0, lost: 0 };
    known.whole += 1;
    if (value > DAMAGED) known.lost += 1;
    counts.set(leaf, known);
  }
  return counts;
}

/**
 * The figures of the leaves as they are drawn now: home's own, moved by what was redrawn.
 * @param {object} mask
 * @param {Array<{area_cm2: number, damage_percent: number}>} leaves as home measured them
 */
export function figuresOf(mask, leaves) {
  const now = mask.strokes.length ? countsOf(mask.now) : mask.counts;
  const each = leaves.map((leaf, at) => {
    const [before, after] = [mask.counts.get(at + 1), now.get(at + 1) ?? { whole: 0, lost: 0 }];
    if (!before) return { ...leaf };
    const moved = after.whole && before.whole ? (100 * after.lost) / after.whole - (100 * before.lost) / before.whole : 0;
    return { area_cm2: (leaf.area_cm2 * after.whole) / before.whole, damage_percent: Math.min(100, Math.max(0, leaf.damage_percent + moved)) };
  }).filter((leaf) => leaf.area_cm2 > 0);
  const area = each.reduce((sum, leaf) => sum + leaf.area_cm2, 0);
  const lost = each.reduce((sum, leaf) => sum + leaf.area_cm2 * leaf.damage_percent, 0);
  return { each, area_cm2: each.length ? area / each.length : null, damage_percent: area ? lost / area : null };
}

/** Begins a stroke; it ends with the next one that is begun, or with an undo. */
export function beginStroke(mask, x, y) {
  mask.strokes = [...mask.strokes.slice(1 - STROKES_MAX), mask.now.slice()];
  const under = mask.now[Math.round(y) * mask.width + Math.round(x)] ?? 0;
  mask.leaf = under ? under % DAMAGED || DAMAGED : (mask.leaf ?? 1);
}

/** Paints a round spot: `damage` and `healthy` make leaf of what was none, `ground` makes it none. */
export function paint(mask, tool, x, y, radius) {
  const [left, right] = [Math.max(0, Math.floor(x - radius)), Math.min(mask.width - 1, Math.ceil(x + radius))];
  for (let row = Math.max(0, Math.floor(y - radius)); row <= Math.min(mask.height - 1, Math.ceil(y + radius)); row += 1) {
    for (let column = left; column <= right; column += 1) {
      if ((column - x) ** 2 + (row - y) ** 2 > radius ** 2) continue;
      const at = row * mask.width + column;
      const value = mask.now[at];
      const leaf = value === 0 ? mask.leaf : value > DAMAGED ? value - DAMAGED : value;
      mask.now[at] = tool === 'ground' ? 0 : tool === 'damage' ? DAMAGED + leaf : leaf;
    }
  }
}

/** Takes the last stroke back; with `all`, every one. */
export function unpaint(mask, all = false) {
  const before = all ? mask.drawn.slice() : mask.strokes.at(-1);
  if (!before) return;
  mask.now = before;
  mask.strokes = all ? [] : mask.strokes.slice(0, -1);
}

/** Draws a line round each leaf, and hatches what is damaged: two tones, so that it shows on dark and on pale leaves. */
export function drawMask(canvas, mask) {
  if (canvas.width !== mask.width) Object.assign(canvas, { width: mask.width, height: mask.height });
  const context = canvas.getContext('2d');
  const image = context.createImageData(mask.width, mask.height);
  const { width, now } = mask;
  for (let at = 0; at < now.length; at += 1) {
    const value = now[at];
    if (value === 0) continue;
    const tone = isEdge(now, at, width) ? OUTLINE : value > DAMAGED ? hatched(at, width) : null;
    if (tone) image.data.set(tone, 4 * at);
  }
  context.putImageData(image, 0, 0);
}

const hatched = (at, width) => (((at % width) + Math.floor(at / width)) % 9 < 4 ? HATCH_DARK : HATCH_LIGHT);
const leafAt = (pixels, at) => (pixels[at] > DAMAGED ? pixels[at] - DAMAGED : pixels[at]) || 0;

function isEdge(pixels, at, width) {
  const leaf = leafAt(pixels, at);
  return [-1, 1, -width, width, -2, 2, -2 * width, 2 * width].some((step) => leafAt(pixels, at + step) !== leaf);
}
