// Two photos of a tree laid over each other, with an edge that a finger or the arrow keys move.
import { html, nothing } from 'lit-html';
import { ref } from 'lit-html/directives/ref.js';
import { shortDay } from './format.js';
import { chooser } from './learned.js';
import { words } from './text.js';

const WIDTH_PX = 1000;

/** The first and the last photo to begin with; `photos` in the order of time. */
export function openOverlay(photos) {
  return { photos, sides: [photos[0]?.id, photos.at(-1)?.id], urls: new Map(), cut: 50, closed: false };
}

/** Gives back the memory of the pictures. */
export function closeOverlay(overlay) {
  overlay.closed = true;
  for (const url of overlay.urls.values()) if (url) URL.revokeObjectURL(url);
}

/** Brings the two chosen photos: from this phone, or from home. A photo that can't be had says why. */
export async function fetchSides(overlay, ctx) {
  for (const id of new Set(overlay.sides)) {
    if (!id || overlay.urls.has(id)) continue;
    overlay.urls.set(id, '');
    const { sha256 } = overlay.photos.find((photo) => photo.id === id).fields;
    try {
      const bytes = await ctx.photos.bytes(sha256);
      const file = bytes ? new Blob([bytes]) : await ctx.home.getPhoto(sha256, WIDTH_PX);
      if (overlay.closed) return;
      overlay.urls.set(id, URL.createObjectURL(file));
      overlay.told = '';
    } catch (error) {
      overlay.urls.delete(id);
      overlay.told = words.photo.away(error.message);
    }
    ctx.redraw();
  }
}

/** The pictures, the edge, and which days they are of. */
export function overlayPart(overlay, ctx) {
  const { photos, sides } = overlay;
  if (photos.length < 2) return html`<p>${words.life.few}</p>`;
  const [left, right] = sides.map((id) => photos.find((photo) => photo.id === id));
  const [a, b] = sides.map((id) => overlay.urls.get(id));
  const cutAt = (figure) => figure?.style.setProperty('--cut', `${overlay.cut}%`);
  const pick = (at) => (id) => {
    overlay.sides[at] = id;
    fetchSides(overlay, ctx);
    ctx.redraw();
  };
  const days = photos.map((photo) => ({ value: photo.id, words: shortDay(photo.at_ms) }));
  return html`<figure class="overlay" ${ref(cutAt)}>
      <div>${a ? html`<img src=${a} alt=${words.life.alt(shortDay(left.at_ms))}>` : nothing}${b ? html`<img class="over" src=${b} alt=${words.life.alt(shortDay(right.at_ms))}>` : nothing}<i aria-hidden="true"></i></div>
      <input type="range" id="overlay-cut" min="0" max="100" .value=${String(overlay.cut)} aria-label=${words.life.slide}
        @input=${(event) => { overlay.cut = Number(event.target.value); cutAt(event.target.closest('.overlay')); }}></figure>
    <p role="status">${overlay.told || (a && b ? nothing : words.life.fetching)}</p>
    <div class="pair">${chooser('overlay-left', words.life.earlier, days, left.id, pick(0))}${chooser('overlay-right', words.life.later, days, right.id, pick(1))}</div>
    <p class="keys">${[...new Set([left, right])].map((photo) => html`<a class="key plain" href="#/photo/${photo.id}">${words.life.open(shortDay(photo.at_ms))}</a>`)}</p>`;
}
