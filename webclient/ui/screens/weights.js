// What counts for how much in the season's review: a grower's own settings, which an owner changes.
import { html, nothing } from 'lit-html';
import { figureRows, openFigures } from '../figures.js';
import { words } from '../text.js';

const FIGURES = { path: '/settings/season', key: 'season-weights', nameOf: ({ name }) => name, bodyOf: ({ name }) => ({ name }), noteOf: noteText };

function noteText({ share, own }) {
  const part = share === null ? '' : words.weighing.share(Math.round(100 * share));
  return [own ? words.species.own : words.species.setting, part].filter(Boolean).join(' ');
}

function view(state, ctx) {
  const { figures, wrong } = state;
  return {
    title: words.weighing.title, back: { href: '#/season', words: words.screens.season },
    body: html`<div role="alert">${wrong ? html`<p class="wrong">${wrong}</p>` : nothing}</div>
      ${figures.length ? html`<p>${ctx.owner() ? words.weighing.how : words.weighing.helper}</p>${figureRows(state, ctx, figures)}` : nothing}`,
  };
}

export const weightsScreen = { open: (ctx) => openFigures(ctx, FIGURES), view };
