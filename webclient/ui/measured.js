// The leaf in a photo, measured by home: what was counted, the figures, redrawing by finger, and taking them into the visit.
import { html, nothing } from 'lit-html';
import { ref } from 'lit-html/directives/ref.js';
import { formatNumber, parseNumber } from '../core/units.js';
import { icon } from './icons.js';
import { beginStroke, drawMask, figuresOf, paint, readMask, unpaint } from './leafmask.js';
import { fetchFile } from './papers.js';
import { caution, choice } from './parts.js';
import { words } from './text.js';

/** The finger's width on the picture, as a share of its longer side. */
const BRUSHES = { small: 0.012, large: 0.035 };
const AREA_CM2 = [0.1, 5000];

/** Asks home; what it answers, or why it cannot, stands in `state.leaf`. */
async function ask(state, ctx) {
  const path = `/photos/${state.record.fields.sha256}/measure`;
  state.leaf = { asking: true };
  ctx.redraw();
  try {
    const document = await ctx.home.getJson(path);
    const [picture, mask] = await Promise.all([ctx.home.getFile(`${path}/picture`), ctx.home.getFile(`${path}/mask`)]);
    state.leaf = { document, url: URL.createObjectURL(picture), mask: await readMask(mask), tool: 'none', brush: 'large' };
    write(state.leaf);
  } catch (error) {
    state.leaf = { problem: error.message };
  }
  ctx.redraw();
}

/** Gives back the picture's memory. */
export function dropLeaf(state) {
  if (state?.leaf?.url) URL.revokeObjectURL(state.leaf.url);
}

/** Writes the figures, as they are drawn now, into the boxes. */
function write(leaf) {
  leaf.figures = figuresOf(leaf.mask, leaf.document.leaves);
  const text = (value) => (value === null ? '' : formatNumber(value, 1));
  leaf.texts = { area: text(leaf.figures.area_cm2), damage: text(leaf.figures.damage_percent) };
  leaf.wrong = {};
}

function stroke(leaf, ctx) {
  const at = (event) => {
    const box = event.currentTarget.getBoundingClientRect();
    return [((event.clientX - box.left) / box.width) * leaf.mask.width, ((event.clientY - box.top) / box.height) * leaf.mask.height];
  };
  const radius = BRUSHES[leaf.brush] * Math.max(leaf.mask.width, leaf.mask.height);
  const dab = (event) => {
    paint(leaf.mask, leaf.tool, ...at(event), radius);
    drawMask(event.currentTarget, leaf.mask);
  };
  return {
    down(event) {
      if (leaf.tool === 'none') return;
      event.preventDefault();
      event.currentTarget.setPointerCapture(event.pointerId);
      leaf.painting = true;
      beginStroke(leaf.mask, ...at(event));
      dab(event);
    },
    move: (event) => leaf.painting && dab(event),
    up() {
      if (!leaf.painting) return;
      leaf.painting = false;
      write(leaf);
      ctx.redraw();
    },
  };
}

function read(leaf) {
  const set = {};
  leaf.wrong = {};
  for (const [name, field, low, high] of [['damage', 'damage_percent', 0, 100], ['area', 'leaf_cm2', ...AREA_CM2]]) {
    const { value, error } = parseNumber(leaf.texts[name]);
    if (error || (value !== null && (value < low || value > high))) leaf.wrong[name] = words.measure.number(low, high);
    else if (value !== null) set[field] = value;
  }
  return Object.keys(leaf.wrong).length || !Object.keys(set).length ? null : set;
}

/** Puts the figures into the visit that the photo belongs to, or into a visit of its own. */
async function take(state, ctx) {
  const { record, leaf } = state;
  const set = read(leaf);
  if (!set) {
    ctx.redraw();
    return ctx.toWrong();
  }
  const { observation = null, tree, taken_at: seen_at } = record.fields;
  const saved = await ctx.saving(() => ctx.records.save('observation', observation, observation ? set : { tree, seen_at, ...set }));
  if (saved) ctx.say(words.measure.taken, async () => { if (await ctx.saving(() => ctx.records.saveAll(saved.undo))) ctx.say(words.measure.back); });
}

/** The part of a photo's screen that measures. */
export function leafPart(state, ctx) {
  const { leaf, record } = state;
  if (!record) return nothing;
  return html`<section class="stack tight" id="leaf"><h2>${words.measure.title}</h2>
    ${leaf?.document ? result(state, ctx) : html`<p>${words.measure.how}</p>${caution(words.caution.sap)}
      <p role="status">${leaf?.asking ? words.measure.asking : leaf?.problem ? words.measure.away(leaf.problem) : nothing}</p>
      <button type="button" class="key" id="measure-leaf" ?disabled=${leaf?.asking} @click=${() => ask(state, ctx)}>${leaf?.problem ? words.measure.again : words.measure.key}</button>
      <button type="button" class="key" id="measuring-card" @click=${() => fetchFile(ctx, '/card.pdf', 'card.pdf')}>${icon('print')}${words.measure.card}</button>`}</section>`;
}

function result(state, ctx) {
  const { leaf, record } = state;
  const { document, mask, url, figures } = leaf;
  const hand = stroke(leaf, ctx);
  const keys = (table) => Object.entries(table).map(([value, said]) => ({ value, words: said }));
  const said = (one) => words.measure.figures(formatNumber(one.area_cm2, 1), formatNumber(one.damage_percent, 1));
  return html`<p class="soft">${words.measure.by[document.reference]}. ${words.measure.counted(document.leaves.length)}</p>
    <div class="measured"><img src=${url} alt=${words.measure.picture} width=${mask.width} height=${mask.height}>
      <canvas id="leaf-mask" class=${leaf.tool === 'none' ? '' : 'painting'} aria-hidden="true" ${ref((canvas) => canvas && drawMask(canvas, mask))}
        @pointerdown=${hand.down} @pointermove=${hand.move} @pointerup=${hand.up} @pointercancel=${hand.up}></canvas></div>
    ${figures.each.length > 1 ? html`<ul>${figures.each.map((one, at) => html`<li>${words.measure.leaf(at + 1)}: ${said(one)}</li>`)}</ul>` : nothing}
    ${choice(words.measure.tool, 'tool', keys(words.measure.tools), leaf.tool, (tool) => { leaf.tool = tool; ctx.redraw(); })}
    ${leaf.tool === 'none' ? nothing : choice(words.measure.brush, 'brush', keys(words.measure.brushes), leaf.brush, (brush) => { leaf.brush = brush; ctx.redraw(); })}
    ${mask.strokes.length ? html`<div class="keys halves"><button type="button" class="key" id="stroke-back" @click=${() => back(leaf, ctx, false)}>${words.measure.undo}</button>
      <button type="button" class="key" @click=${() => back(leaf, ctx, true)}>${words.measure.afresh}</button></div>` : nothing}
    ${box(leaf, ctx, 'damage')}${box(leaf, ctx, 'area')}
    ${record.fields.tree ? html`<button type="button" class="key main" id="take-figures" @click=${() => take(state, ctx)}>${words.measure.take}</button>` : html`<p>${words.measure.noTree}</p>`}`;
}

function back(leaf, ctx, all) {
  unpaint(leaf.mask, all);
  write(leaf);
  ctx.redraw();
}

function box(leaf, ctx, name) {
  const [id, wrong] = [`leaf-${name}`, leaf.wrong[name]];
  return html`<div class="field"><label for=${id}>${words.measure[name]}</label><input id=${id} type="text" inputmode="decimal" autocomplete="off" .value=${leaf.texts[name]}
    aria-invalid=${wrong ? 'true' : 'false'} aria-describedby="${id}-wrong" @input=${(event) => { leaf.texts[name] = event.target.value; }}>
    <p class="wrong" id="${id}-wrong">${wrong ?? nothing}</p></div>`;
}
