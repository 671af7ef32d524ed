// Photos of a form that is not saved yet: taken, kept on the disk at once, shown small, taken out again.
import { html } from 'lit-html';
import { timeText } from '../core/time.js';
import { icon } from './icons.js';
import { words } from './text.js';

export const PICTURES_MAX = 8;

/** Pictures of a draft, read back from the disk; one that is gone is left out. */
export async function openPictures(ctx, fingerprints) {
  const pictures = await Promise.all(fingerprints.map(async (sha256) => {
    const [info, bytes] = await Promise.all([ctx.photos.info(sha256), ctx.photos.bytes(sha256)]);
    return info && bytes ? { sha256, url: URL.createObjectURL(new Blob([bytes], { type: info.type })) } : null;
  }));
  return pictures.filter(Boolean);
}

/** Gives back the memory of the shown pictures. */
export function dropPictures(pictures) {
  for (const picture of pictures) URL.revokeObjectURL(picture.url);
}

async function add(state, ctx, event, kept) {
  const files = [...event.target.files];
  event.target.value = '';
  for (const file of files.slice(0, PICTURES_MAX - state.pictures.length)) {
    const taken = await ctx.saving(async () => {
      const photo = await ctx.device.readPhoto(file);
      await ctx.photos.hold({ bytes: photo.bytes, sha256: photo.sha256, type: photo.type, taken_at: timeText() });
      return photo;
    });
    if (!taken || state.pictures.some((picture) => picture.sha256 === taken.sha256)) continue;
    const url = URL.createObjectURL(new Blob([taken.bytes], { type: taken.type }));
    const picture = { sha256: taken.sha256, url, code: 'reading', coming: true };
    state.pictures = [...state.pictures, picture];
    // On the disk before it is seen: who sees it may close the page at once.
    await kept();
    picture.coming = false;
    lookForCode(picture, ctx, file);
    ctx.redraw();
  }
}

/** Says at once whether home will find something to measure by; saving does not wait for it. */
async function lookForCode(picture, ctx, file) {
  const scanner = ctx.device.createScanner({ onText: () => {} });
  picture.code = await scanner.readFile(file).then((text) => (text ? 'seen' : 'none'), () => null);
  scanner.close();
  ctx.redraw();
}

async function remove(state, ctx, picture, kept) {
  state.pictures = state.pictures.filter((other) => other !== picture);
  await kept();
  URL.revokeObjectURL(picture.url);
  await ctx.saving(() => ctx.photos.release(picture.sha256));
}

/** The photos of the form and the key that takes one more; `kept` writes the draft and resolves when it is on the disk. */
export function pictureField(state, ctx, kept) {
  const full = state.pictures.length >= PICTURES_MAX;
  return html`<fieldset class="field"><legend>${words.photo.legend}</legend>
    <ul class="pictures">${state.pictures.filter(({ coming }) => !coming).map((picture, at) => html`<li><img src=${picture.url} alt=${words.photo.alt(at + 1)}>
      <button type="button" class="key" aria-label=${words.photo.remove(at + 1)} @click=${() => remove(state, ctx, picture, kept)}>${icon('close')}</button></li>`)}</ul>
    <p role="status" class="soft">${words.inView[state.pictures.at(-1)?.code] ?? ''}</p>
    ${full ? html`<p class="soft">${words.photo.full(PICTURES_MAX)}</p>` : html`<label class="key">${icon('photo')}${words.photo.take}
      <input id="take-photo" type="file" accept="image/*" capture="environment" @change=${(event) => add(state, ctx, event, kept)}></label>`}
  </fieldset>`;
}
