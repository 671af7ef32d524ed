// Jobs: what to do next, by when; done by scanning the pot or here, put off, or dropped.
import { html, nothing } from 'lit-html';
import { begunPlans } from '../begun.js';
import { icon } from '../icons.js';
import { jobParts, openJobs, whenOf } from '../jobs.js';
import { fetchFile } from '../papers.js';
import { words } from '../text.js';

const STEP = 10;

async function open(ctx) {
  const state = { shown: STEP };
  await load(state, ctx);
  return state;
}

async function load(state, ctx) {
  const [overview, records, cards, begun, lessons] = await Promise.all([ctx.settings.get('overview'), ctx.records.list('job'), ctx.cards.get(), begunPlans(ctx), ctx.records.list('lesson')]);
  Object.assign(state, { jobs: openJobs(overview, records, cards, ctx.owner()), cards, lessons, begun: Object.keys(begun).length });
}

async function changed(state, ctx, event) {
  if (event.topic !== 'photos') await load(state, ctx);
}

function view(state, ctx) {
  const { jobs, cards, lessons, shown, begun } = state;
  const drawn = jobs.slice(0, shown);
  const groups = Object.keys(words.job.when).map((when) => [when, drawn.filter((job) => whenOf(job) === when)]).filter(([, of]) => of.length);
  return {
    title: words.job.title,
    body: html`${jobs.length ? html`<p class="figure" id="job-count">${words.job.open(jobs.length)}</p>` : html`<p>${words.job.none}</p>`}
      ${begun ? html`<p>${words.job.plan} <a href="#/out">${words.job.toPlan}</a></p>` : nothing}
      ${groups.map(([when, of]) => html`<section class="stack"><h2>${words.job.when[when]}</h2><div class="two">${jobParts(of, ctx, cards, lessons)}</div></section>`)}
      ${jobs.length > shown ? html`<button type="button" class="key" @click=${() => { state.shown += STEP; ctx.redraw(); }}>${words.more(jobs.length - shown)}</button>` : nothing}
      <div class="keys halves"><a class="key" href="#/edit/job/new">${icon('plus')}${words.job.add}</a>
        <button type="button" class="key" id="job-sheet" @click=${() => fetchFile(ctx, '/jobs.pdf', 'jobs.pdf')}>${icon('print')}${words.job.sheet}</button>
        <a class="key" href="#/lessons">${icon('learnt')}${words.lesson.title}</a><a class="key" href="#/cuttings">${icon('cutting')}${words.batch.title}</a>${ctx.owner() ? html`<a class="key" href="#/calendar">${words.job.calendar}</a>` : nothing}</div>`,
  };
}

export const jobsScreen = { open, view, changed };

/** The calendar's address: made new by an owner, shown once, or shut. */
export const calendarScreen = {
  open: async () => ({ url: null, told: '' }),
  view: (state, ctx) => ({
    title: words.job.calendar, back: { href: '#/jobs', words: words.job.title },
    body: html`<p>${words.job.calendarHow}</p>
      ${state.url ? html`<p>${words.job.calendarMade}</p><p><input readonly id="calendar-url" aria-label=${words.job.calendar} .value=${state.url} @focus=${(event) => event.target.select()}></p>` : nothing}
      <p role="status">${state.told}</p>
      <div class="keys halves"><button type="button" class="key" id="calendar-make" @click=${() => ask(state, ctx, 'POST')}>${words.job.calendarMake}</button>
        <button type="button" class="key harm" @click=${() => ask(state, ctx, 'DELETE')}>${words.job.calendarShut}</button></div>`,
  }),
};

async function ask(state, ctx, method) {
  try {
    const answer = await ctx.home.sendJson(method, '/calendar', {});
    Object.assign(state, { url: answer?.url ?? null, told: answer ? '' : words.job.calendarIsShut });
  } catch (error) {
    state.told = error.message;
  }
  ctx.redraw();
}
