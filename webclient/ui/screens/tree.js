// A tree's card, open on the form of a visit: what a scan leads to.
import { html, nothing } from 'lit-html';
import { timeText } from '../../core/time.js';
import { formatQuantity } from '../../core/units.js';
import { SOILS, STANDINGS, wordsFor } from '../../core/vocabularies.js';
import { askHome, showKept } from '../asked.js';
import { jobParts, openJobs } from '../jobs.js';
import { counter } from '../counter.js';
import { cropOf, cropPart } from '../crop.js';
import { field } from '../fields.js';
import { findingBrief, findingsOf, trendOf } from '../finding.js';
import { ageWords, dayOf } from '../format.js';
import { historyRows, treeChart } from '../history.js';
import { healthPart } from '../health.js';
import { icon } from '../icons.js';
import { leafChooser } from '../leafdiagram.js';
import { paceOf, pacePart } from '../pace.js';
import { choice, twicePressed } from '../parts.js';
import { dropPictures, openPictures, pictureField } from '../pictures.js';
import { plate } from '../plate.js';
import { words } from '../text.js';
import { shootRow } from '../shoots.js';
import { COUNTED, stageChoices, asLastTime, counterField, isTouched, lastTexts, markedOn, readVisit, shootsField, visitSummary } from '../visit.js';

const HISTORY_SHOWN = 8;
const HISTORY_DRAWN = 60;

async function open(ctx, { id }, from) {
  const tree = await ctx.records.get('tree', id);
  if (!tree) return { missing: true };
  const key = `visit:${id}`;
  const [draft, round, known] = await Promise.all([ctx.drafts.get(key), ctx.records.roundOpen(), loadAround(ctx, tree)]);
  ctx.origin = originAfter(from, ctx.origin);
  const pictures = await openPictures(ctx, draft?.value.photos ?? []);
  const state = { tree, round, key, ...known, texts: draft?.value.texts ?? {}, problems: [], busy: false, asked: null, pictures, page: null, page_at_ms: 0 };
  askPage(state, ctx);
  return state;
}

/** Home's own page of the tree brings its charts with their bands; without it the card shows what the phone knows. */
function askPage(state, ctx) {
  // A tree that the overview does not name is not home yet, or retired there.
  if (!state.trend) return;
  const near = ['idle', 'syncing'].includes(ctx.sync().phase);
  (near ? askHome : showKept)(ctx, `/trees/${state.tree.id}`, ({ document, fetched_at_ms: at_ms }) => {
    if (!document || at_ms === state.page_at_ms) return false;
    Object.assign(state, { page: document, page_at_ms: at_ms });
    return true;
  });
}

/** What home says of leaves and pace: its page of the tree where that is newer than the overview, which lacks the series. */
function told({ page, page_at_ms: at_ms, overview_at_ms: overview, trend, pace, on }) {
  if (!page) return { trend, pace: { pace, on, drawing: null } };
  if (at_ms >= overview) return { trend: page.trend, pace: { pace: page.pace, on: page.on, drawing: page.pace?.drawing } };
  return { trend: { ...trend, series: page.trend?.series }, pace: { pace, on, drawing: page.pace?.drawing, drawn_at_ms: at_ms } };
}

/** Where the walk goes on after this tree: the screen it was opened from, but never another part of a tree's card. */
function originAfter(from, origin) {
  if (from.startsWith('scan')) return 'scan';
  return from === '' || /^(tree|edit|new|pair)\b/.test(from) ? origin : from;
}

/** What stands around the form; read again when records change, without touching what is typed. */
async function loadAround(ctx, tree) {
  const latest = await ctx.records.latest(tree.id);
  const placeId = latest?.place ?? tree.fields.place;
  const [variety, placeList, history, overview, jobs, cards, lessons] = await Promise.all([
    tree.fields.variety ? ctx.records.get('variety', tree.fields.variety) : null,
    ctx.records.list('place'),
    ctx.records.history(tree.id, HISTORY_DRAWN),
    ctx.settings.get('overview'),
    ctx.records.list('job'),
    ctx.cards.get(),
    ctx.records.list('lesson'),
  ]);
  const places = new Map(placeList.map((place) => [place.id, place]));
  return {
    latest, variety, places, place: places.get(placeId) ?? null, history, cards, lessons,
    jobs: openJobs(overview, jobs, cards, ctx.owner()).filter((job) => job.trees.includes(tree.id)),
    findings: findingsOf(overview, tree), trend: trendOf(overview, tree), crop: cropOf(overview, tree),
    pace: paceOf(overview, tree), on: overview?.document?.on ?? null, overview_at_ms: overview?.fetched_at_ms ?? 0,
  };
}

async function changed(state, ctx) {
  // A card that is being saved is about to be left.
  if (state.missing || state.busy) return;
  state.tree = (await ctx.records.get('tree', state.tree.id)) ?? state.tree;
  Object.assign(state, await loadAround(ctx, state.tree));
}

function close(state) {
  if (state?.pictures) dropPictures(state.pictures);
}

function writeDraft(state, ctx) {
  ctx.keeper.keep(state.key, { texts: state.texts, photos: state.pictures.map((picture) => picture.sha256) });
}

function keepDraft(state, ctx) {
  writeDraft(state, ctx);
  ctx.redraw();
}

/** A photo is shown once its draft is on the disk: what is seen on the form survives the browser. */
async function keepPictures(state, ctx) {
  writeDraft(state, ctx);
  await ctx.keeper.settled();
  ctx.redraw();
}

function type(state, ctx, name, text) {
  state.texts = { ...state.texts, [name]: text };
  state.problems = state.problems.filter((problem) => problem.field !== name);
  keepDraft(state, ctx);
}

/** Saves what is typed, or with `quick` the one press for a tree that is fine, and goes back to where the walk was. */
async function save(state, ctx, quick) {
  if (state.busy) return;
  const { tree, latest, round, texts } = state;
  const { set, problems } = quick
    ? { set: { tree: tree.id, seen_at: timeText(), ...asLastTime(latest) }, problems: [] }
    : readVisit(texts, tree.id, ctx.units);
  if (problems.length > 0) return showProblems(state, ctx, problems);
  if (round) set.round = round.id;
  state.busy = true;
  const here = ctx.path();
  const photos = quick ? [] : state.pictures.map((picture) => picture.sha256);
  const saved = await ctx.saving(() => ctx.records.save('observation', null, set, { photos, drafts: [state.key] }), (found) => showProblems(state, ctx, found));
  // Once saved it stays busy until it is left: another tap must not save again.
  state.busy = Boolean(saved);
  if (!saved) return;
  // What was typed while it was saved. Nobody waits for this: whoever opens the form again reads the draft after it.
  ctx.keeper.drop(state.key).catch((error) => console.warn('draft not dropped', error));
  ctx.justDone = { tag: tree.fields.tag, at_ms: Date.now() };
  ctx.say(words.visit.saved(tree.fields.tag), () => undo(ctx, tree.id, state.key, saved, quick ? null : { texts, photos }));
  ctx.goOn(here, ctx.origin);
}

function showProblems(state, ctx, problems) {
  state.problems = problems;
  ctx.redraw();
  ctx.toWrong();
}

/** Withdraws the visit and opens its form again, with what was typed and photographed for it. */
async function undo(ctx, treeId, key, saved, draft) {
  const undone = await ctx.saving(() => ctx.records.saveAll(saved.undo));
  if (!undone) return;
  if (draft) await ctx.drafts.put(key, draft);
  for (const sha256 of draft?.photos ?? []) await ctx.photos.holdAgain(sha256);
  ctx.say(words.visit.undone);
  ctx.go(`tree/${treeId}`);
}

async function clear(state, ctx) {
  const held = state.pictures;
  state.texts = {};
  state.pictures = [];
  state.problems = [];
  dropPictures(held);
  await ctx.keeper.drop(state.key);
  for (const picture of held) await ctx.photos.release(picture.sha256).catch(() => {});
  ctx.redraw();
}

function view(state, ctx) {
  if (state.missing) return { title: words.tree.missingTitle, body: html`<p>${words.tree.missing}</p>` };
  const { tree } = state;
  const touched = isTouched(state.texts, state.pictures);
  return {
    title: words.tree.title(tree.fields.tag),
    heading: plate(tree.fields.tag, 'big'),
    back: { href: `#/${ctx.origin}`, words: words.back },
    body: html`${standing(state, ctx)}<div class="two"><div class="stack">
      ${state.findings.map((finding) => findingBrief(finding))}${jobsHere(state, ctx)}
      ${visitForm(state, ctx, touched)}</div>
      <div class="stack">${deeds(state, ctx)}${about(state, ctx)}</div></div>`,
    dock: touched ? saveKeys(state, ctx) : quickKey(state, ctx),
  };
}

/** What is to be done on this tree, on one line until it is opened. */
function jobsHere({ jobs, cards, lessons }, ctx) {
  return jobs.length ? html`<details class="jobs" id="jobs-here"><summary>${words.job.ofTree}: ${jobs.map((job) => job.title).join(', ')}</summary>
    ${jobParts(jobs, ctx, cards, lessons)}</details>` : nothing;
}

function standing({ tree, variety, place, latest }, ctx) {
  const pot = latest?.pot_litres ?? tree.fields.pot_litres;
  const facts = [place?.fields.place, pot && formatQuantity('volume', pot, ctx.units),
    tree.fields.standing && wordsFor(STANDINGS, tree.fields.standing), tree.fields.position && words.tree.position(tree.fields.position)];
  const seen = latest?.seen_at_ms ? words.tree.lastSeen(ageWords(latest.seen_at_ms)) : words.tree.neverSeen;
  return html`<div><p class="between"><strong id="tree-variety">${variety?.fields.variety ?? words.tree.noVariety}</strong>
    <span class="soft small">${seen}</span></p><p class="soft">${facts.filter(Boolean).join(' · ')}</p></div>`;
}

function visitForm(state, ctx, touched) {
  const { texts, problems, latest } = state;
  const change = (name, text) => type(state, ctx, name, text);
  const marked = markedOn(state.tree, texts);
  const counterOf = (spec) => (marked && spec.name === 'leaves_per_shoot'
    ? shootRow(shootsField(marked, { texts, problems, latest }), (text) => change('shoot_leaves', text))
    : html`${counter(counterField(spec, { texts, problems, latest, units: ctx.units }), change)}${spec.name === 'damage_percent'
      ? leafChooser(state, texts.damage_percent ?? '', (text) => change('damage_percent', text), ctx.redraw) : nothing}`);
  return html`<form id="visit" class="form" aria-label=${words.visit.form} @submit=${(event) => { event.preventDefault(); save(state, ctx, false); }}>
    <div>${COUNTED.map(counterOf)}</div>
    ${field({ kind: 'observation', field: 'causes', texts, problems, units: ctx.units, change })}
    ${field({ kind: 'observation', field: 'bbch', texts, problems, units: ctx.units, change, choices: stageChoices() })}
    ${choice(words.field.soil, 'soil', SOILS.map((soil) => ({ ...soil, clears: true })), texts.soil ?? '', (value) => change('soil', value))}
    ${partPart(state, change, ctx)}${field({ kind: 'observation', field: 'note', texts, problems, units: ctx.units, change })}
    ${pictureField(state, ctx, () => keepPictures(state, ctx))}
    ${touched ? twicePressed(state, ctx, { name: 'clear', label: words.visit.clear, sure: words.visit.clearSure, run: () => clear(state, ctx) }) : nothing}
    <button class="aside" tabindex="-1" aria-hidden="true">${words.save}</button>
  </form>`;
}

/** A branch or a side that is counted apart from the rest of its tree, offered closed. */
function partPart({ texts, problems }, change, ctx) {
  return html`<details ?open=${Boolean(texts.part)}><summary>${words.visit.partOnly}</summary><p class="soft">${words.visit.partHow}</p>
    ${field({ kind: 'observation', field: 'part', texts, problems, units: ctx.units, change })}</details>`;
}

function quickKey(state, ctx) {
  const { leaves_fallen: none, ...repeated } = asLastTime(state.latest);
  const noted = visitSummary(repeated, ctx.units);
  return html`<button type="button" id="as-last-time" class="key main stack" @click=${() => save(state, ctx, true)}>
    <span>${noted ? words.visit.asLast : words.visit.nothingFallen}</span>${noted ? html`<small>${noted}</small>` : nothing}</button>`;
}

function saveKeys(state, ctx) {
  const last = lastTexts(state.latest, ctx.units, markedOn(state.tree, state.texts));
  const canFill = Object.keys(last).some((name) => !state.texts[name]);
  return html`${canFill ? html`<button type="button" id="fill-last" class="key" @click=${() => {
    state.texts = { ...last, ...withText(state.texts) };
    keepDraft(state, ctx);
  }}>${words.visit.fill}</button>` : nothing}
    <button type="button" id="save-visit" class="key main" ?disabled=${state.busy} @click=${() => save(state, ctx, false)}>${icon('check')}${words.save}</button>`;
}

function withText(texts) {
  return Object.fromEntries(Object.entries(texts).filter(([, text]) => text !== ''));
}

/** A helper is offered what it may write; a card, its tag and what is learnt or rooted from it are an owner's. */
function deeds({ tree }, ctx) {
  const key = (name, href, label) => html`<a class="key" href=${href}>${icon(name)}${label}</a>`;
  return html`<nav aria-label=${words.tree.deeds} class="keys halves">
    ${key('move', `#/tree/${tree.id}/move`, words.deed.move)}${key('work', `#/tree/${tree.id}/work`, words.deed.work)}
    ${key('harvest', `#/tree/${tree.id}/harvest`, words.deed.harvest)}${ctx.owner() ? html`${key('edit', `#/edit/tree/${tree.id}`, words.deed.edit)}
    ${key('tag', `#/scan/retag/${tree.id}`, words.deed.retag)}` : nothing}${key('out', `#/tree/${tree.id}/out`, words.deed.out)}
    ${key('check', `#/edit/job/new/${tree.id}`, words.job.add)}${ctx.owner() ? html`${key('learnt', `#/edit/lesson/new/${tree.id}`, words.lesson.add1)}${key('cutting', `#/edit/batch/new/${tree.id}`, words.batch.add1)}` : nothing}</nav>`;
}

function about(state, ctx) {
  const { tree, history } = state;
  const { former_tags: former = [], source, started_on: started, note } = tree.fields;
  const { trend, pace } = told(state);
  return html`${trend ? healthPart(trend) : nothing}${cropPart(state.crop)}${treeChart(history, state.places, trend)}${pacePart(pace, ctx.units)}
    <section class="stack tight"><h2>${words.tree.history}</h2>
      ${history.length === 0 ? html`<p class="soft">${words.tree.noHistory}</p>` : historyRows(history.slice(0, HISTORY_SHOWN), state.places, ctx, undefined, state.page?.recorded_by)}
      <p class="keys">${history.length > HISTORY_SHOWN ? html`<a href="#/tree/${tree.id}/history" class="key">${words.tree.allHistory}</a>` : nothing}${history.length ? html`<a href="#/tree/${tree.id}/life" class="key">${words.life.key}</a>` : nothing}</p></section>
    ${note || source || started || former.length ? html`<section class="stack tight"><h2>${words.tree.about}</h2>
      ${source || started ? html`<p>${[source, started && words.tree.since(dayOf(started))].filter(Boolean).join(', ')}</p>` : nothing}
      ${note ? html`<p>${note}</p>` : nothing}
      ${former.length ? html`<p class="soft">${words.tree.former} ${former.map((tag) => plate(tag))}</p>` : nothing}</section>` : nothing}`;
}

export const treeScreen = { open, view, changed, close };
