// Runs the screens: follows the address, opens a screen's state, draws it in the frame, and passes data and actions in.
import { render, nothing, html } from 'lit-html';
import { createCards } from './cards.js';
import { frame } from './frame.js';
import { createKeeper } from './keeper.js';
import { followAddress, matchRoute } from './router.js';
import { fetchScreens, OWNERS_PATHS, ROUTES, screenNamed } from './routes.js';
import { words } from './text.js';

const SLIP_MS = 9_000;
const TICK_MS = 30_000;
/** Safari does not tell when it is idle. */
const REST_MS = 300;
/** Of two taps this near to each other the second is none of its own when a save was answered this shortly before it. */
const SECOND_TAP_PX = 40;
const SECOND_TAP_MS = 600;

/**
 * Starts the screens in `root`.
 * @param {Element} root
 * @param {{store: import('../store/types.js').Store, engine: import('../sync/types.js').Engine,
 *   home: import('../sync/types.js').Transport, device: object, units: object, theme: string,
 *   language: string, showTheme: (theme: string) => void, role?: string}} services `role`: as what the phone was paired when it started
 */
export function runScreens(root, services) {
  root.replaceChildren();
  const app = {
    path: '', asked: '', screen: '', shown: null, state: null, sync: services.engine.state(), slip: null, update: null, closed: '', turn: 0,
    tap: { x: 0, y: 0, until_ms: 0 },
  };
  const ctx = makeContext(app, services, () => draw(root, app, ctx));
  ctx.showPath = (path) => showPath(app, ctx, path);
  services.engine.subscribe((sync) => {
    app.sync = sync;
    ctx.redraw();
  });
  services.store.subscribe((event) => storeChanged(app, ctx, event));
  keepClearOfBench(root);
  dropSecondTaps(app);
  unfoldForPaper(app, () => draw(root, app, ctx));
  setInterval(ctx.redraw, TICK_MS);
  addEventListener('pagehide', () => app.shown?.close?.(app.state, ctx));
  addEventListener('pageshow', (event) => {
    if (event.persisted) ctx.showPath(app.path);
  });
  followAddress(ctx.showPath);
  // Behind the first screen, yet before the grower walks out of reach.
  if ('requestIdleCallback' in window) requestIdleCallback(fetchScreens);
  else setTimeout(fetchScreens, REST_MS);
  return {
    /** Offers a new version; `use` puts it to work. */
    offerUpdate(use) {
      app.update = use;
      ctx.redraw();
    },
  };
}

function makeContext(app, { store, engine, home, device, units, theme, language, showTheme, role }, drawNow) {
  let drawing = false;
  const ctx = {
    records: store.records, outbox: store.outbox, photos: store.photos, drafts: store.drafts, kept: store.kept, settings: store.settings,
    engine, home, device, units, theme, language, showTheme, fetchScreens, cards: createCards(store.records), keeper: createKeeper(store.drafts),
    origin: 'scan',
    sync: () => app.sync,
    owner: () => (app.sync.pairing?.role ?? role) !== 'helper',
    path: () => app.path,
    redraw() {
      if (drawing) return;
      drawing = true;
      queueMicrotask(() => { drawing = false; drawNow(); });
    },
    go(path) {
      // Not by setting the hash: the browser would tell of it only after it had drawn this screen once more.
      if (location.hash !== `#/${path}`) history.pushState(null, '', `#/${path}`);
      return ctx.showPath(path);
    },
    /** Goes on from a screen after a save, unless the grower has left it meanwhile. */
    async goOn(here, path) {
      if (app.asked !== here) return;
      await ctx.go(path);
      awaitSecondTap(app);
    },
    replace(path) {
      history.replaceState(null, '', `#/${path}`);
      ctx.showPath(path);
    },
    say: (text, undo = null) => saySlip(app, ctx, text, undo),
    saving: (save, showProblems) => saving(ctx, save, showProblems),
    toWrong: () => setTimeout(() => document.querySelector('[aria-invalid="true"]')?.focus()),
  };
  return ctx;
}

/** Shows what happened, for a while; `undo` takes it back. */
function saySlip(app, ctx, text, undo) {
  const close = () => {
    if (app.slip !== slip) return;
    app.slip = null;
    ctx.redraw();
  };
  const slip = { text, close, undo: undo && (async () => { close(); await undo(); }) };
  app.slip = slip;
  if (undo) awaitSecondTap(app);
  setTimeout(close, SLIP_MS);
  ctx.redraw();
}

function awaitSecondTap(app) {
  app.tap.until_ms = performance.now() + SECOND_TAP_MS;
}

/** The second tap of a double one was aimed at the key that saved, not at the slip or screen that came in its place. */
function dropSecondTaps(app) {
  addEventListener('click', (event) => {
    const { clientX: x, clientY: y, timeStamp: at_ms, detail } = event;
    // Pressed on a keyboard.
    if (detail === 0) return;
    if (at_ms < app.tap.until_ms && Math.hypot(x - app.tap.x, y - app.tap.y) < SECOND_TAP_PX) {
      event.preventDefault();
      event.stopPropagation();
    } else {
      app.tap = { x, y, until_ms: 0 };
    }
  }, true);
}

/** Runs a save. What is wrong with the values goes to the form, anything else is told; nothing typed is lost. */
async function saving(ctx, save, showProblems = null) {
  // What is still on its way to the disk would come behind the save that takes the draft away.
  await ctx.keeper.settled();
  try {
    return await save();
  } catch (error) {
    if (error.problems && showProblems) showProblems(error.problems);
    else ctx.say(words.error.notSaved(error.message));
    // Behind whoever saved, who gives the key free again.
    setTimeout(ctx.redraw);
    return null;
  }
}

async function showPath(app, ctx, path) {
  if (!ctx.owner() && OWNERS_PATHS.test(path)) return void ctx.replace('index');
  const found = matchRoute(ROUTES, path || 'now') ?? { name: 'lost', params: {} };
  const turn = ++app.turn;
  app.asked = path; // The grower is on the way there, though the screen before it is still shown.
  let [shown, state] = [null];
  try {
    shown = await screenNamed(found.name);
    state = await shown.open(ctx, found.params, app.path);
  } catch (error) {
    state = { failed: error };
  }
  if (turn !== app.turn) return;
  if (state.redirect) return void ctx.replace(state.redirect);
  app.shown?.close?.(app.state, ctx);
  const moved = app.path !== path;
  Object.assign(app, { path, screen: found.name, shown, state });
  ctx.redraw();
  if (moved) queueMicrotask(() => arrive());
}

/** A new screen begins at its top, and a screen reader hears its name. */
function arrive() {
  scrollTo(0, 0);
  document.querySelector('.head h1')?.focus({ preventScroll: true });
}

/** What is scrolled to or focused must not come to lie under the keys at the bottom, however tall large text makes them. */
function keepClearOfBench(root) {
  const clear = new ResizeObserver(([{ target }]) => {
    document.documentElement.style.scrollPaddingBottom = getComputedStyle(target).position === 'sticky' ? `${target.offsetHeight + 16}px` : '';
  });
  const watch = new MutationObserver(() => {
    const bench = root.querySelector('.bench');
    if (!bench) return;
    clear.observe(bench);
    watch.disconnect();
  });
  watch.observe(root, { childList: true });
}

/** On paper nothing can be opened: while the browser prints, all that folds is open and lists go on to their end. */
function unfoldForPaper(app, drawNow) {
  let back = () => {};
  addEventListener('beforeprint', () => {
    const { state } = app;
    const shown = state?.shown;
    if (state) state.shown = Infinity;
    drawNow();
    const folded = [...document.querySelectorAll('main details:not([open])')];
    folded.forEach((one) => { one.open = true; });
    back = () => {
      if (state) state.shown = shown;
      folded.forEach((one) => { one.open = false; });
      drawNow();
    };
  });
  addEventListener('afterprint', () => back());
}

async function storeChanged(app, ctx, event) {
  if (event.topic === 'closed') {
    app.closed = event.lost ? 'lost' : 'closed';
    return ctx.redraw();
  }
  if (event.topic === 'saved' || event.topic === 'pulled') ctx.cards.forget();
  const { shown, state, turn } = app;
  try {
    if (state && !state.failed && shown?.changed) await shown.changed(state, ctx, event);
  } catch (error) {
    if (!error.kind) throw error;
  }
  // Behind whoever saved, so that a screen that is about to be left is not drawn once more.
  setTimeout(() => { if (turn === app.turn) ctx.redraw(); });
}

function draw(root, app, ctx) {
  const { shown, state } = app;
  if (!state) return;
  const parts = state.failed ? failure(state.failed) : shown.view(state, ctx);
  document.title = `${parts.title} · Leafwalk`;
  render(frame({ ...app, dock: nothing, ...parts }), root);
}

function failure(error) {
  console.error(error);
  return { title: words.error.title, body: html`<p>${words.error.screen}</p><p class="soft">${error.message}</p>` };
}
