// The code plate: a tree's code on screen as it stands on its printed tag.
import { html } from 'lit-html';

/** `ABCDEF` → `ABC DEF`. */
export function spaceCode(code) {
  return `${code.slice(0, 3)} ${code.slice(3)}`;
}

/** The code as a small tag; `size` is '' or 'big'. Read aloud sign by sign. */
export function plate(code, size = '') {
  return html`<span class="plate ${size}"><i aria-hidden="true"></i><span aria-hidden="true">${spaceCode(code)}</span
    ><span class="aside">${[...code].join(' ')}</span></span>`;
}
