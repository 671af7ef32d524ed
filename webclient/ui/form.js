// A form whose unfinished texts outlive the browser: opened from its draft, kept at every stroke, dropped when saved.
import { html } from 'lit-html';
import { field, readForm, textOf } from './fields.js';

/**
 * @typedef {{kind: string, key: string, names: string[], texts: Record<string, string>, problems: Array<{field: string,
 *   message: string}>, record: string|null, before: object|null}} Form
 */

/**
 * Opens a form on a record, or on a new one with `start` texts in it.
 * @param {object} ctx
 * @param {{kind: string, key: string, names: string[], record?: {id: string, fields: object}|null,
 *   start?: Record<string, string>}} options
 * @returns {Promise<Form>}
 */
export async function openForm(ctx, { kind, key, names, record = null, start = {} }) {
  const before = record?.fields ?? null;
  const stored = Object.fromEntries(names.map((name) => [name, before ? textOf(kind, name, before[name], ctx.units) : '']));
  const draft = await ctx.drafts.get(key);
  return { kind, key, names, record: record?.id ?? null, before, problems: [], texts: { ...stored, ...start, ...draft?.value } };
}

/** Takes one stroke into the form and onto the disk. */
export function typeInto(form, ctx, name, text) {
  form.texts = { ...form.texts, [name]: text };
  form.problems = form.problems.filter((problem) => problem.field !== name);
  ctx.keeper.keep(form.key, form.texts);
  ctx.redraw();
}

/** The form's fields in their order; `choices` gives the options of fields that refer to cards. */
export function formFields(form, ctx, choices = {}, names = form.names) {
  return html`<div class="form">${names.map((name) => field({
    kind: form.kind, field: name, texts: form.texts, problems: form.problems, units: ctx.units, choices: choices[name],
    change: (changed, text) => typeInto(form, ctx, changed, text),
  }))}</div>`;
}

/**
 * Reads the form and saves its record; with something wrong in it, shows that and saves nothing.
 * @param {Record<string, unknown>} more values that the form has no field for
 * @returns {Promise<import('../store/types.js').Saved|null>} null when the form has to be mended first
 */
export async function saveForm(form, ctx, more = {}) {
  const typed = Object.fromEntries(form.names.map((name) => [name, form.texts[name] ?? '']));
  const { set, problems } = readForm(form.kind, typed, { before: form.before, units: ctx.units, given: more });
  if (problems.length > 0) return showProblems(form, ctx, problems);
  const all = { ...more, ...set };
  if (form.record && Object.keys(all).length === 0) return { record: form.record, change: '', n: 0, undo: [] };
  const saved = await ctx.saving(() => ctx.records.save(form.kind, form.record, all, { drafts: [form.key] }), (found) => showProblems(form, ctx, found));
  // What was typed while it was saved.
  if (saved) await ctx.keeper.drop(form.key);
  return saved;
}

function showProblems(form, ctx, problems) {
  form.problems = problems;
  ctx.redraw();
  ctx.toWrong();
  return null;
}
