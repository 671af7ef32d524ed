// Three small screens: the index of all screens, an address that leads nowhere, and a tag's own address.
import { html } from 'lit-html';
import { readTagCode } from '../../core/tagcode.js';
import { alertsOf, treesNamed } from '../finding.js';
import { indexRows } from '../frame.js';
import { words } from '../text.js';

export const indexScreen = {
  async open(ctx) {
    const [overview, trees, barrow] = await Promise.all([ctx.settings.get('overview'), ctx.records.count('tree'), ctx.drafts.get('barrow')]);
    const { act, watch } = treesNamed(alertsOf(overview));
    return { counts: { now: act + watch || '', trees, barrow: barrow?.value.length || '', pocket: ctx.sync().pocket.unsent || '' } };
  },
  view: (state) => ({ title: words.screens.index, low: true, body: html`<nav aria-label=${words.screens.index}>${indexRows({ screen: 'index', counts: state.counts })}</nav>` }),
};

export const lostScreen = {
  open: async () => ({}),
  view: () => ({ title: words.lost.title, body: html`<p>${words.lost.text}</p>` }),
};

/** Opens the tree that has the tag, or a new tree on it; a code that cannot be is explained. */
export const tagScreen = {
  async open(ctx, { code }) {
    const reading = readTagCode(code);
    if (reading.error) return { wrong: words.code[reading.error] };
    const found = await ctx.records.treeByTag(reading.code);
    return { redirect: found ? `tree/${found.tree.id}` : `new/${reading.code}` };
  },
  view: (state) => ({ title: words.lost.tag, body: html`<p class="wrong">${state.wrong}</p>` }),
};
