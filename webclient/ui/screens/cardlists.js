// Places and varieties as lists, and the form on which any card is edited or made new and any fact corrected.
import { html, nothing } from 'lit-html';
import { dateText } from '../../core/time.js';
import { COVERS, wordsFor } from '../../core/vocabularies.js';
import { options, placeOf, varietyName } from '../cards.js';
import { formFields, openForm, saveForm } from '../form.js';
import { dayAndTime } from '../format.js';
import { icon } from '../icons.js';
import { spaceCode } from '../plate.js';
import { words } from '../text.js';
import { stageChoices, VISIT_FIELDS } from '../visit.js';

/** Cards, which only owners edit, and facts, which whoever records may correct. */
const CARD_FIELDS = {
  tree: ['variety', 'place', 'position', 'pot_litres', 'standing', 'decision', 'source', 'started_on', 'marked_shoots', 'note'],
  place: ['place', 'cover', 'light_percent', 'heated', 'latitude', 'note'],
  variety: ['variety', 'species', 'origin_country', 'note'],
  lesson: ['lesson', 'on_day', 'degree_days', 'task', 'variety', 'place'],
  batch: ['batch', 'variety', 'method', 'taken_on', 'taken', 'rooted', 'failed', 'note'],
};
/** Anybody may enter what is to be done. */
const PLAN_FIELDS = { job: ['job', 'task', 'place', 'due_on', 'note'] };
const FACT_FIELDS = {
  observation: [...VISIT_FIELDS, 'seen_at'],
  move: ['to_place', 'moved_at'],
  work: ['task', 'amount', 'note', 'done_at'],
  harvest: ['fruit', 'weight_g', 'quality', 'picked_at'],
};
const FIELDS = { ...CARD_FIELDS, ...PLAN_FIELDS, ...FACT_FIELDS };
/** What may be made new here, and the field that names the tree it is made from. */
const NEW = { place: null, variety: null, job: 'tree', lesson: 'tree', batch: 'parent' };

async function openList(ctx) {
  return { cards: await ctx.cards.get() };
}

async function changedList(state, ctx) {
  state.cards = await ctx.cards.get();
}

function countBy(cards, keyOf) {
  const count = new Map();
  for (const tree of cards.trees.values()) {
    if (tree.fields.standing === 'retired') continue;
    const key = keyOf(tree);
    count.set(key, (count.get(key) ?? 0) + 1);
  }
  return count;
}

function list(rows) {
  return html`<ul class="rows">${rows.map(({ href, name, below, end }) => html`<li><a class="row" href=${href}>
    <span class="grow"><strong>${name}</strong><span class="soft small">${below}</span></span><span class="end soft small">${end}</span></a></li>`)}</ul>`;
}

export const placesScreen = {
  open: openList,
  changed: changedList,
  view({ cards }, ctx) {
    const count = countBy(cards, (tree) => placeOf(cards, tree)?.id);
    const rows = options(cards.places, 'place').map(({ value, words: name }) => {
      const { cover, light_percent: light } = cards.places.get(value).fields;
      const below = [cover && wordsFor(COVERS, cover), light != null && words.place.light(light)].filter(Boolean).join(' · ');
      return { href: `#/place/${value}`, name, below, end: words.trees.count(count.get(value) ?? 0) };
    });
    return { title: words.screens.places, body: rows.length ? list(rows) : html`<p>${words.place.none}</p><p>${words.beginning.noPlace}</p>`, dock: newKey(ctx, 'place', words.place.add) };
  },
};

export const varietiesScreen = {
  open: openList,
  changed: changedList,
  view({ cards }, ctx) {
    const count = countBy(cards, (tree) => tree.fields.variety);
    const rows = options(cards.varieties, 'variety').map(({ value, words: name }) => ({
      href: `#/edit/variety/${value}`, name, below: cards.varieties.get(value).fields.species ?? '', end: words.trees.count(count.get(value) ?? 0),
    }));
    return { title: words.variety.title, back: { href: '#/settings', words: words.screens.settings },
      body: rows.length ? list(rows) : html`<p>${words.variety.none}</p>`, dock: newKey(ctx, 'variety', words.variety.add) };
  },
};

function newKey(ctx, kind, label) {
  return ctx.owner() ? html`<a class="key" href="#/edit/${kind}/new">${icon('plus')}${label}</a>` : nothing;
}

const BACK = {
  tree: (id) => `tree/${id}`,
  place: (id) => (id ? `place/${id}` : 'places'),
  variety: () => 'varieties', job: () => 'jobs', lesson: () => 'lessons', batch: () => 'cuttings',
};

/** Counts of marked shoots are shown where there are any. */
function namesOf(kind, record) {
  return FIELDS[kind].filter((name) => name !== 'shoot_leaves' || record?.fields.shoot_leaves);
}

function backOf(kind, record) {
  return kind in FACT_FIELDS ? `tree/${record.fields.tree}/history` : BACK[kind](record?.id);
}

export const cardEditScreen = {
  async open(ctx, { kind, id, from = null }) {
    if (!FIELDS[kind] || (id === 'new' && !(kind in NEW))) return { redirect: 'index' };
    const record = id === 'new' ? null : await ctx.records.get(kind, id);
    if (id !== 'new' && !record) return { redirect: 'index' };
    const cards = await ctx.cards.get();
    const tree = id === 'new' && NEW[kind] ? cards.trees.get(from) : null;
    const start = tree && 'variety' in Object.fromEntries(FIELDS[kind].map((name) => [name, 0])) && tree.fields.variety ? { variety: tree.fields.variety } : {};
    const form = await openForm(ctx, { kind, key: `edit:${kind}:${id}${tree ? `:${tree.id}` : ''}`, names: namesOf(kind, record), record, start });
    return { kind, record, form, cards, tree, back: tree ? `tree/${tree.id}` : backOf(kind, record), busy: false };
  },

  view(state, ctx) {
    const { kind, record, form, cards, back } = state;
    const title = record ? words.edit.title(nameOf(kind, record, cards)) : words[kind].add;
    const places = options(cards.places, 'place');
    const choices = kind !== 'variety' && kind in { ...CARD_FIELDS, ...PLAN_FIELDS } && kind !== 'place' ? { variety: options(cards.varieties, 'variety'), place: places } : { to_place: places, bbch: stageChoices() };
    if (!ctx.owner() && kind in CARD_FIELDS) return { title, back: { href: `#/${back}`, words: words.back }, body: html`<p>${words.edit.helper}</p>` };
    return {
      title, back: { href: `#/${back}`, words: words.back },
      body: html`<form class="form" @submit=${(event) => { event.preventDefault(); save(state, ctx); }}>
        ${formFields(form, ctx, choices)}<button class="aside" tabindex="-1" aria-hidden="true">${words.save}</button></form>
        ${kind === 'tree' ? html`<p class="soft">${words.edit.placeHint}</p>` : nothing}`,
      dock: html`<button type="button" class="key main" id="save-card" ?disabled=${state.busy} @click=${() => save(state, ctx)}>${icon('check')}${words.save}</button>`,
    };
  },
};

function nameOf(kind, record, cards) {
  if (kind === 'tree') return `${spaceCode(record.fields.tag)} ${varietyName(cards, record)}`;
  return kind in CARD_FIELDS || kind in PLAN_FIELDS ? record.fields[kind] : words.edit.fact(words.kind[kind], dayAndTime(record.at_ms));
}

/** A decision that was taken or dropped on the form has today as its day, or none. */
function decidedToday({ kind, record, form }) {
  if (kind !== 'tree' || !record || (form.texts.decision ?? '') === (record.fields.decision ?? '')) return {};
  return { decided_on: form.texts.decision ? dateText() : null };
}

async function save(state, ctx) {
  if (state.busy) return;
  state.busy = true;
  const here = ctx.path();
  const saved = await saveForm(state.form, ctx, { ...(state.tree ? { [NEW[state.kind]]: state.tree.id } : {}), ...decidedToday(state) });
  state.busy = Boolean(saved);
  if (!saved) return;
  ctx.say(words.saved, saved.undo.length ? () => ctx.saving(() => ctx.records.saveAll(saved.undo)) : null);
  ctx.goOn(here, state.record || state.tree ? state.back : BACK[state.kind](saved.record));
}
