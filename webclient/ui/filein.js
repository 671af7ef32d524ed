// A file brought home from a screen: what came of it, and the questions that it leaves open, one at a time.
import { html, nothing } from 'lit-html';
import { icon } from './icons.js';
import { choice } from './parts.js';
import { words } from './text.js';

/**
 * A key that takes a CSV file and sends it to `path`. What came of it is kept under `state.filein`.
 * @param {object} state the screen's
 * @param {object} ctx
 * @param {{path: string, label: string, tell: (answer: object) => string, asks?: Record<string, string>}} options `tell` puts
 *   home's answer into words; `asks` are the questions by the name under which home wants the answer
 */
export function fileIn(state, ctx, { path, label, tell, asks }) {
  const { sent, open, span, told = '', wrong = '', busy = false } = state.filein ?? {};
  const send = async (file, answers) => {
    state.filein = { busy: true };
    ctx.redraw();
    try {
      const answer = await ctx.home.sendFile(`${path}?${new URLSearchParams(answers)}`, file);
      state.filein = { told: tell(answer), span: answer.span };
      ctx.engine.syncNow();
    } catch (error) {
      const { errors, choices } = error.problem ?? {};
      state.filein = choices?.length ? { sent: { file, answers }, open: { field: errors[0].field, choices } } : { wrong: error.message };
    }
    ctx.redraw();
  };
  const takeBack = async () => {
    const done = await ctx.saving(() => ctx.home.sendJson('DELETE', `/imports/${span}`));
    if (!done) return;
    state.filein = { told: words.filein.back(done.records, done.left) };
    ctx.engine.syncNow();
    ctx.redraw();
  };
  return html`<div class="stack tight"><label class="key">${icon('file')}${busy ? words.filein.busy : label}<input type="file" accept=".csv,.txt,text/csv" ?disabled=${busy}
      @change=${({ target }) => { if (target.files[0]) send(target.files[0], {}); target.value = ''; }}></label>
    ${open ? choice(asks[open.field], 'filein', open.choices, '', (value) => send(sent.file, { ...sent.answers, [open.field]: value })) : nothing}
    <div role="status">${told.split('\n').filter(Boolean).map((line) => html`<p>${line}</p>`)}${wrong.split('\n').filter(Boolean).map((line) => html`<p class="wrong">${line}</p>`)}</div>
    ${span ? html`<button type="button" class="key" @click=${takeBack}>${words.undo}</button>` : nothing}</div>`;
}
