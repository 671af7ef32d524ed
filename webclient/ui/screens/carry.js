// A move, a piece of work or a harvest: for one tree, or for all on the barrow at once.
import { html, nothing } from 'lit-html';
import { timeText } from '../../core/time.js';
import { toSi, unitLabel } from '../../core/units.js';
import { TASK_AMOUNTS } from '../../core/vocabularies.js';
import { options, placeOf, varietyName } from '../cards.js';
import { field, readForm, localTime } from '../fields.js';
import { openForm, typeInto, formFields } from '../form.js';
import { icon } from '../icons.js';
import { learntBefore, lessonsFor } from '../jobs.js';
import { bigSteps, gentlerPlaces, stepWarning } from '../lightstep.js';
import { caution, choice } from '../parts.js';
import { plate } from '../plate.js';
import { words } from '../text.js';

const DEEDS = {
  move: { kind: 'move', names: ['to_place', 'moved_at'], moment: 'moved_at' },
  work: { kind: 'work', names: ['task', 'amount', 'note', 'done_at'], moment: 'done_at' },
  harvest: { kind: 'harvest', names: ['fruit', 'weight_g', 'quality', 'picked_at'], moment: 'picked_at' },
};

async function open(ctx, { id = null, deed }) {
  const kind = DEEDS[deed];
  if (!kind || (deed === 'harvest' && !id)) return { redirect: id ? `tree/${id}` : 'barrow' };
  const cards = await ctx.cards.get();
  const ids = id ? [id] : ((await ctx.drafts.get('barrow'))?.value ?? []);
  const trees = ids.map((one) => cards.trees.get(one)).filter(Boolean);
  const form = await openForm(ctx, { kind: kind.kind, key: `${deed}:${id ?? 'barrow'}`, names: kind.names });
  // An empty box means now, so that the time of saving counts and not the time of opening.
  const lessons = deed === 'work' ? await ctx.records.list('lesson') : [];
  return { id, deed, kind, cards, trees, form, lessons, round: await ctx.records.roundOpen(), busy: false, withTime: Boolean(form.texts[kind.moment]) };
}

function view(state, ctx) {
  const { id, deed, trees, form } = state;
  return {
    title: words.carry.title[deed], low: true, back: { href: id ? `#/tree/${id}` : '#/barrow', words: words.back },
    body: trees.length === 0 ? html`<p>${words.carry.none}</p>` : html`${whom(state)}
      <form class="form" @submit=${(event) => { event.preventDefault(); save(state, ctx); }}>${BODIES[deed](state, ctx)}${timeField(state, ctx)}
      <button class="aside" tabindex="-1" aria-hidden="true">${words.save}</button></form>${cautionFor(deed, form.texts)}`,
    dock: trees.length === 0 ? nothing : html`<button type="button" class="key main" id="save-deed" ?disabled=${state.busy}
      @click=${() => save(state, ctx)}>${icon('check')}${saveLabel(state)}</button>`,
  };
}

function whom({ trees, cards }) {
  if (trees.length > 1) return html`<p class="figure">${words.carry.trees(trees.length)}</p>`;
  const [tree] = trees;
  return html`<p>${plate(tree.fields.tag)} <strong>${varietyName(cards, tree)}</strong></p>
    <p class="soft">${placeOf(cards, tree) ? words.carry.standsIn(placeOf(cards, tree).fields.place) : nothing}</p>`;
}

/** When the move is, as far as the form says. */
function movedAt({ form }) {
  const at_ms = new Date(form.texts.moved_at).getTime();
  return Number.isNaN(at_ms) ? Date.now() : at_ms;
}

function stepsAhead(state) {
  return state.deed === 'move' && state.form.texts.to_place ? bigSteps(state.trees, state.cards, state.form.texts.to_place, movedAt(state)) : [];
}

/** The grower decides: a warning never bars the move, the key only says that it stands. */
function saveLabel(state) {
  const label = words.carry.save[state.deed](state.trees.length);
  return stepsAhead(state).length ? words.light.anyway(label) : label;
}

function stepPart(state, ctx) {
  const { id, trees, cards, form } = state;
  const steps = stepsAhead(state);
  const gentler = steps.length ? gentlerPlaces(steps.map(({ tree }) => tree), cards, form.texts.to_place, movedAt(state)) : [];
  return stepWarning(steps, { count: trees.length, gentler, pick: (place) => typeInto(form, ctx, 'to_place', place), plan: id ? `#/tree/${id}/out` : '#/barrow/out' });
}

const BODIES = {
  move(state, ctx) {
    const { form, cards } = state;
    const places = options(cards.places, 'place');
    const pick = places.length <= 12
      ? html`${choice(words.field.to_place, 'to_place', places, form.texts.to_place, (value) => typeInto(form, ctx, 'to_place', value))}${wrong(form, 'to_place')}`
      : formFields(form, ctx, { to_place: places }, ['to_place']);
    return html`${pick}${stepPart(state, ctx)}`;
  },
  work({ form, lessons, trees, cards }, ctx) {
    const amount = TASK_AMOUNTS[form.texts.task];
    return html`${formFields(form, ctx, {}, ['task'])}${learntBefore(lessonsFor(lessons, form.texts.task, trees, cards))}${amount ? amountField(form, ctx, amount) : nothing}${formFields(form, ctx, {}, ['note'])}`;
  },
  harvest: ({ form }, ctx) => formFields(form, ctx, {}, ['fruit', 'weight_g', 'quality']),
};

function wrong(form, name) {
  const problem = form.problems.find((p) => p.field === name);
  return problem ? html`<p class="wrong" role="alert">${problem.message}</p>` : nothing;
}

/** The amount's unit depends on the task: litres for pots and water, fruits for thinning. */
function amountField(form, ctx, amount) {
  const label = amount === 'volume' ? words.carry.litres(unitLabel('volume', ctx.units)) : words.carry.fruits;
  const problem = form.problems.find((p) => p.field === 'amount');
  return html`<div class="field"><label for="work-amount">${label}</label>
    <input id="work-amount" inputmode="decimal" autocomplete="off" .value=${form.texts.amount ?? ''} aria-invalid=${problem ? 'true' : 'false'}
      @input=${(event) => typeInto(form, ctx, 'amount', event.target.value)}>${wrong(form, 'amount')}</div>`;
}

function timeField(state, ctx) {
  const { form, kind } = state;
  if (!state.withTime) {
    return html`<button type="button" class="key plain" @click=${() => {
      state.withTime = true;
      typeInto(form, ctx, kind.moment, localTime(Date.now()));
    }}>${words.carry.otherTime}</button>`;
  }
  return field({ kind: kind.kind, field: kind.moment, texts: form.texts, problems: form.problems, units: ctx.units,
    change: (name, text) => typeInto(form, ctx, name, text) });
}

/** Hazards are named beside the work that has them. */
function cautionFor(deed, { task }) {
  if (deed === 'move') return caution(words.caution.lifting);
  return deed === 'work' ? caution(words.caution[task]) : nothing;
}

function readDeed({ form, kind, deed }, ctx, tree) {
  const texts = { ...form.texts };
  const given = { tree };
  if (!texts[kind.moment]) {
    delete texts[kind.moment];
    given[kind.moment] = timeText();
  }
  const counted = deed === 'work' && TASK_AMOUNTS[texts.task] !== 'volume';
  if (deed === 'work' && !TASK_AMOUNTS[texts.task]) texts.amount = '';
  return amountInUnits(readForm(kind.kind, texts, { units: ctx.units, given }), given, counted ? null : ctx.units);
}

/** `amount` has no fixed quantity, so a volume is brought to litres here. */
function amountInUnits({ set, problems }, given, units) {
  const all = { ...given, ...set };
  if (units && typeof all.amount === 'number') all.amount = toSi('volume', all.amount, units);
  return { set: all, problems };
}

async function save(state, ctx) {
  if (state.busy) return;
  const { trees, kind, deed, form, round } = state;
  const read = trees.map((tree) => readDeed(state, ctx, tree.id));
  const problems = read[0].problems;
  if (problems.length > 0) return showProblems(form, ctx, problems);
  state.busy = true;
  const here = ctx.path();
  const edits = read.map(({ set }) => ({ kind: kind.kind, set: round && deed !== 'harvest' ? { ...set, round: round.id } : set }));
  const drafts = state.id ? [form.key] : [form.key, 'barrow'];
  const saved = await ctx.saving(() => ctx.records.saveAll(edits, { drafts }), (found) => showProblems(form, ctx, found));
  // Once saved it stays busy until it is left: another tap must not save again.
  state.busy = Boolean(saved);
  if (saved) await done(state, ctx, saved, here);
}

function showProblems(form, ctx, problems) {
  form.problems = problems;
  ctx.redraw();
  ctx.toWrong();
}

async function done({ form, id, deed, trees }, ctx, saved, here) {
  await ctx.keeper.drop(form.key);
  ctx.say(words.carry.saved[deed](trees.length), async () => {
    if (!(await ctx.saving(() => ctx.records.saveAll(saved.flatMap((one) => one.undo))))) return;
    if (!id) await ctx.drafts.put('barrow', trees.map((tree) => tree.id));
    ctx.say(words.undone);
    if (!id) ctx.go('barrow');
  });
  ctx.goOn(here, id ? `tree/${id}` : 'barrow');
}

export const carryScreen = { open, view };
