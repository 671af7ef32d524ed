// What is to be done: home's jobs and the grower's own, less what was answered on this phone since.
import { html, nothing } from 'lit-html';
import { repeat } from 'lit-html/directives/repeat.js';
import { addDays, dateText, timeText } from '../core/time.js';
import { TASKS } from '../core/vocabularies.js';
import { dayOf } from './format.js';
import { placeOf } from './cards.js';
import { icon } from './icons.js';
import { caution, level } from './parts.js';
import { plate } from './plate.js';
import { words } from './text.js';

const PUT_OFF_DAYS = 3;
const PUT_OFF_DAYS_MAX = 366;
/** Other waits that are offered, by their words. */
const OTHER_DAYS = { tomorrow: 1, aWeek: 7 };
const TAGS_SHOWN = 12;
/** Work whose amount must be known, and home does not know it. */
const ASKS_AMOUNT = ['pot_up', 'pot_down', 'water'];

/** Jobs that end in a card's edit or a printed tag; they are an owner's. */
const OWNERS_JOBS = /^(give_away|retire|reprint_\w+):/;

/**
 * The open jobs, the most pressing first.
 * @param {object|null} overview the last one from home
 * @param {Array<object>} records the job records on this phone
 * @param {{trees: Map, places: Map}} cards a job of the grower's own at a place is about the trees that stand there
 * @param {boolean} owner a helper is shown no job that only an owner can do
 */
export function openJobs(overview, records, cards, owner = true, today = dateText()) {
  const answers = new Map(records.map((record) => [record.fields.key ?? record.id, record]));
  const told = (overview?.document?.tasks ?? []).filter((job) => (owner || !OWNERS_JOBS.test(job.key)) && isOpen(answers.get(job.key)?.fields, today));
  const known = new Set(told.map((job) => job.key));
  const own = records.filter(({ id, fields }) => !fields.key && !known.has(id) && isOpen(fields, today)).map(({ id, fields }) => ({
    key: id, record: id, task: fields.task, title: fields.job, level: 'watch', due_on: fields.put_off_to ?? fields.due_on ?? null, why: [], advice: fields.note ?? '',
    trees: fields.tree ? [fields.tree] : standingAt(fields.place, cards), place: cards.places.get(fields.place)?.fields.place, tags: [], amount: fields.amount ?? null, caution: fields.task,
  }));
  const day = (job) => job.due_on ?? '9999';
  return [...told, ...own].sort((a, b) => day(a).localeCompare(day(b)));
}

function standingAt(place, cards) {
  return place ? [...cards.trees.values()].filter((tree) => tree.fields.standing !== 'retired' && placeOf(cards, tree)?.id === place).map((tree) => tree.id) : [];
}

function isOpen(fields, today) {
  return !fields || !(fields.done_on || fields.dropped || (fields.put_off_to && fields.put_off_to > today));
}

/** Lessons tied to a piece of work, for trees that it is about to be done on; one tied to nothing else holds for all. */
export function lessonsFor(lessons, task, trees, cards) {
  const bears = ({ variety, place, tree }) => trees.some((one) => (!variety || one.fields.variety === variety) && (!place || placeOf(cards, one)?.id === place) && (!tree || one.id === tree));
  return lessons.filter(({ fields }) => fields.task === task && bears(fields)).map(({ fields }) => fields.lesson);
}

/** What was learnt of a piece of work, beside the work. */
export const learntBefore = (told) => (told.length ? html`<p class="learnt"><strong>${words.lesson.forTask}</strong> ${told.join(' · ')}</p>` : nothing);

/** In which group of the list a job stands. */
export function whenOf(job, today = dateText()) {
  if (!job.due_on) return 'some';
  if (job.due_on < today) return 'late';
  if (job.due_on === today) return 'today';
  return job.due_on <= addDays(today, 7) ? 'week' : 'later';
}

/** One answer, with the work it stands for, in one save; `undo` takes both back. */
async function answer(ctx, job, set, said, work = []) {
  const known = (await ctx.records.list('job')).find((record) => (record.fields.key ?? record.id) === job.key);
  const isNew = !known && !job.record;
  const more = isNew ? { job: job.title, task: job.task, key: job.key, ...(job.trees.length === 1 ? { tree: job.trees[0] } : {}) } : {};
  const edits = [...work, { kind: 'job', record: known?.id ?? job.record ?? null, set: { ...more, ...set } }];
  const saved = await ctx.saving(() => ctx.records.saveAll(edits));
  if (saved) ctx.say(said, () => ctx.saving(() => ctx.records.saveAll(saved.flatMap((one) => one.undo))));
}

/** Thinning, pruning and the like are noted as work on each tree; what needs an amount that nobody gave is not. */
function workOf(job, trees, now) {
  if (/^(give_away|retire):/.test(job.key)) return trees.map((record) => ({ kind: 'tree', record, set: { standing: 'retired' } }));
  if (!TASKS.some((task) => task.value === job.task) || ASKS_AMOUNT.includes(job.task)) return [];
  const amount = trees.length === 1 && job.amount ? { amount: job.amount } : {};
  return trees.map((tree) => ({ kind: 'work', record: null, set: { tree, done_at: now, task: job.task, ...amount } }));
}

/**
 * Jobs with their keys, each in a place of its own, so that what is open on one stays with it.
 * @param {Array<object>} jobs
 * @param {object} ctx
 * @param {{byTag: Map, trees: Map}} cards
 * @param {Array<object>} lessons the lesson records on this phone
 */
export const jobParts = (jobs, ctx, cards, lessons) => repeat(jobs, (job) => job.key, (job) => jobPart(job, ctx, cards, lessons));

function jobPart(job, ctx, cards, lessons) {
  const known = job.trees.map((id) => cards.trees.get(id)).filter(Boolean);
  const done = () => answer(ctx, job, { done_on: dateText() }, words.job.said.done, workOf(job, known.map((tree) => tree.id), timeText()));
  return html`<article class="finding ${job.level}" data-job=${job.key}>
    <h2>${level(job.level)}<br>${job.title} ${job.due_on ? html`<span class="since">${words.job.due(dayOf(job.due_on))}</span>` : nothing}</h2>
    <p class="tags">${known.slice(0, TAGS_SHOWN).map((tree) => html`<a href="#/tree/${tree.id}">${plate(tree.fields.tag)}</a> `)}${known.length > TAGS_SHOWN ? words.job.all(known.length) : nothing}</p>
    ${job.amount ? html`<p>${words.job.amount(job.amount)}</p>` : nothing}
    ${job.why.length ? html`<p>${job.why.join(' ')}</p>` : nothing}${job.advice ? html`<p><strong>${words.finding.advice}</strong> ${job.advice}</p>` : nothing}
    ${learntBefore(lessonsFor(lessons, job.task, known, cards))}${caution(words.caution[job.caution])}
    ${ASKS_AMOUNT.includes(job.task) && known.length === 1 ? html`<a class="key" href="#/tree/${known[0].id}/work">${icon('work')}${words.job.note}</a>` : nothing}
    <div class="keys"><button type="button" class="key" @click=${done}>${icon('check')}${words.job.done}</button>
      <button type="button" class="key" @click=${() => putOff(ctx, job, addDays(dateText(), PUT_OFF_DAYS))}>${words.job.put}</button>
      <button type="button" class="key" @click=${() => answer(ctx, job, { dropped: true }, words.job.said.drop)}>${words.job.drop}</button>
      ${job.record ? html`<a class="key" href="#/edit/job/${job.record}">${words.job.edit}</a>` : nothing}${otherDay(job, ctx)}</div></article>`;
}

const putOff = (ctx, job, day) => answer(ctx, job, { put_off_to: day }, words.job.said.put(dayOf(day)));

/** Three days are one press; any other day is one more, or is written. */
function otherDay(job, ctx) {
  const after = (days) => addDays(dateText(), days);
  const id = `put-${job.key}`;
  const chosen = (event) => {
    event.preventDefault();
    putOff(ctx, job, event.target.elements[id].value);
  };
  return html`<details class="other"><summary class="key">${words.job.otherDay}</summary><div class="stack"><div class="keys even">${Object.entries(OTHER_DAYS).map(([name, days]) => html`
      <button type="button" class="key" @click=${() => putOff(ctx, job, after(days))}>${words.job[name]}</button>`)}</div>
    <form class="field" @submit=${chosen}><label for=${id}>${words.job.untilDay}</label><div class="keys">
      <input type="date" id=${id} required min=${after(1)} max=${after(PUT_OFF_DAYS_MAX)}><button class="key">${words.job.putOff}</button></div></form></div></details>`;
}
