// What is known of each species: which figures have a source, and which are a grower's setting that an owner changes.
import { html, nothing } from 'lit-html';
import { figureRows, figureText, keepTyped, openFigures } from '../figures.js';
import { words } from '../text.js';

const FIGURES = {
  path: '/settings/species', key: 'species', nameOf: (figure) => `${figure.species}.${figure.name}`,
  bodyOf: ({ species, name }) => ({ species, name }), noteOf: sourceText,
};

/** Where a figure comes from, and the range that it was seen in. */
function sourceText(figure, units) {
  const { low, high, source, own, is_setting: setting, set_aside: aside } = figure;
  const range = low !== null && high !== null ? words.species.range(figureText(figure, low, units, true), figureText(figure, high, units)) : '';
  const from = own ? words.species.own : setting ? words.species.setting : words.species.source(source);
  return [from, range, aside].filter(Boolean).join(' ');
}

function view(state, ctx) {
  const { figures, wrong } = state;
  const all = new Map(figures.map((one) => [one.species, one.species_words]));
  const chosen = all.has(state.chosen) ? state.chosen : figures[0]?.species;
  return {
    title: words.species.title, back: { href: '#/settings', words: words.screens.settings },
    body: html`<div role="alert">${wrong ? html`<p class="wrong">${wrong}</p>` : nothing}</div>
      ${all.size ? html`<p>${ctx.owner() ? words.species.how : words.species.helper}</p>
      <div class="field"><label for="which-species">${words.field.species}</label>
        <select id="which-species" @change=${(event) => { Object.assign(state, { chosen: event.target.value, problem: null }); keepTyped(state, ctx); }}>
        ${[...all].map(([value, name]) => html`<option value=${value} ?selected=${value === chosen}>${name}</option>`)}</select></div>
      ${figureRows(state, ctx, figures.filter((one) => one.species === chosen))}` : nothing}`,
  };
}

export const speciesScreen = { open: (ctx) => openFigures(ctx, FIGURES), view };
