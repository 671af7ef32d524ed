// A new tree on a tag that no tree has yet, prefilled from the tree entered before.
import { html, nothing } from 'lit-html';
import { readTagCode } from '../../core/tagcode.js';
import { options } from '../cards.js';
import { field, readForm, today } from '../fields.js';
import { icon } from '../icons.js';
import { plate, spaceCode } from '../plate.js';
import { openForm, formFields, saveForm, typeInto } from '../form.js';
import { words } from '../text.js';

const NAMES = ['batch', 'variety', 'place', 'position', 'pot_litres', 'standing', 'source', 'started_on', 'note'];
/** What the next tree takes over from the one before; a note belongs to one tree. */
const TAKEN_OVER = ['variety', 'place', 'position', 'pot_litres', 'standing', 'source', 'started_on'];
const NEW = 'new';

async function open(ctx, { code }) {
  const reading = readTagCode(code);
  if (reading.error) return { wrong: words.code[reading.error] };
  const found = await ctx.records.treeByTag(reading.code);
  if (found) return { redirect: `tree/${found.tree.id}` };
  if (!ctx.owner()) return { wrong: words.newTree.helper };
  const [cards, batches] = await Promise.all([ctx.cards.get(), ctx.records.list('batch')]);
  const before = (await ctx.drafts.get('tree-before'))?.value ?? {};
  const start = { started_on: today(), standing: 'trial', ...before };
  const form = await openForm(ctx, { kind: 'tree', key: `new:${reading.code}`, names: NAMES, start });
  const inline = (kind) => ({ kind, texts: {}, problems: [] });
  return { code: reading.code, cards, batches: new Map(batches.map((one) => [one.id, one])), form, takenOver: Object.keys(before).length > 0, variety: inline('variety'), place: inline('place'), busy: false };
}

async function changed(state, ctx) {
  if (state.cards) state.cards = await ctx.cards.get();
}

function view(state, ctx) {
  if (state.wrong) return { title: words.newTree.title, body: html`<p class="wrong">${state.wrong}</p>` };
  const { code, form, cards, batches } = state;
  const choices = {
    batch: options(batches, 'batch'),
    variety: [{ value: NEW, words: words.newTree.newVariety }, ...options(cards.varieties, 'variety')],
    place: [{ value: NEW, words: words.newTree.newPlace }, ...options(cards.places, 'place')],
  };
  const part = (names) => formFields(form, ctx, choices, names);
  return {
    title: words.newTree.heading(code), heading: words.newTree.title, back: { href: '#/scan', words: words.screens.scan },
    body: html`<p>${plate(code, 'big')}</p>${state.takenOver ? html`<p class="soft">${words.newTree.takenOver}</p>` : nothing}
      <form class="form" @submit=${(event) => { event.preventDefault(); save(state, ctx); }}>
        ${batches.size ? field({ kind: 'tree', field: 'batch', texts: form.texts, problems: form.problems, units: ctx.units, choices: choices.batch, change: (_, id) => fromBatch(state, ctx, id) }) : nothing}
        ${part(['variety'])}${form.texts.variety === NEW ? inlineFields(state.variety, ['variety', 'species'], ctx) : nothing}
        ${part(['place'])}${form.texts.place === NEW ? inlineFields(state.place, ['place', 'cover', 'light_percent'], ctx) : nothing}
        ${part(NAMES.slice(3))}<button class="aside" tabindex="-1" aria-hidden="true">${words.save}</button></form>
      <p><a class="key" href="#/trees/${code}">${icon('tag')}${words.newTree.replace}</a></p>`,
    dock: html`<button type="button" class="key main" id="save-tree" ?disabled=${state.busy} @click=${() => save(state, ctx)}>${icon('check')}${words.newTree.save}</button>`,
  };
}

/** A young tree of a batch is of its variety. */
function fromBatch({ form, batches }, ctx, id) {
  typeInto(form, ctx, 'batch', id);
  const variety = batches.get(id)?.fields.variety;
  if (variety) typeInto(form, ctx, 'variety', variety);
}

function inlineFields(inline, names, ctx) {
  return html`<div class="sheet">${names.map((name) => field({
    kind: inline.kind, field: name, texts: inline.texts, problems: inline.problems, units: ctx.units, prefix: `new-${inline.kind}`,
    change: (changedName, text) => { inline.texts = { ...inline.texts, [changedName]: text }; ctx.redraw(); },
  }))}</div>`;
}

/** Saves a variety or place that was written in the form; its id then stands in the form, also if the tree fails. */
async function saveInline(state, ctx, kind) {
  if (state.form.texts[kind] !== NEW) return true;
  const inline = state[kind];
  const { set, problems } = readForm(kind, inline.texts, { units: ctx.units });
  inline.problems = problems;
  if (problems.length > 0) {
    ctx.redraw();
    ctx.toWrong();
    return false;
  }
  const saved = await ctx.saving(() => ctx.records.save(kind, null, set), (found) => { inline.problems = found; });
  if (!saved) return false;
  state.cards = await ctx.cards.get();
  typeInto(state.form, ctx, kind, saved.record);
  return true;
}

async function save(state, ctx) {
  if (state.busy) return;
  state.busy = true;
  const here = ctx.path();
  const ready = (await saveInline(state, ctx, 'variety')) && (await saveInline(state, ctx, 'place'));
  const parent = state.batches.get(state.form.texts.batch)?.fields.parent;
  const saved = ready && (await saveForm(state.form, ctx, { tag: state.code, ...(parent ? { parent } : {}) }));
  state.busy = Boolean(saved);
  if (!saved) return;
  await ctx.drafts.put('tree-before', nextStart(state.form.texts));
  ctx.justDone = { tag: state.code, at_ms: Date.now() };
  ctx.say(words.newTree.saved(spaceCode(state.code)), async () => {
    await ctx.saving(() => ctx.records.saveAll(saved.undo));
    ctx.say(words.undone);
  });
  ctx.goOn(here, 'scan');
}

/** The next tree's start; a position that ends in a number counts on. */
function nextStart(texts) {
  const kept = Object.fromEntries(TAKEN_OVER.filter((name) => texts[name]).map((name) => [name, texts[name]]));
  if (kept.position) kept.position = kept.position.replace(/\d+$/, (number) => String(Number(number) + 1));
  return kept;
}

export const newTreeScreen = { open, view, changed };
