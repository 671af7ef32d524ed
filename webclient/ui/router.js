// Turns the address into a screen and its parameters; knows nothing of what the screens show.

/**
 * Matches `path` against patterns such as `tree/:id/move`; the first that fits wins.
 * @param {Array<[string, string]>} routes pairs of pattern and screen name
 * @param {string} path the part after `#/`
 * @returns {{name: string, params: Record<string, string>} | null}
 */
export function matchRoute(routes, path) {
  const parts = path.split('/').filter(Boolean);
  for (const [pattern, name] of routes) {
    const params = matchParts(pattern.split('/').filter(Boolean), parts);
    if (params) return { name, params };
  }
  return null;
}

function matchParts(pattern, parts) {
  if (pattern.length !== parts.length) return null;
  const params = {};
  for (const [at, piece] of pattern.entries()) {
    if (piece.startsWith(':')) params[piece.slice(1)] = decodePart(parts[at]);
    else if (piece !== parts[at]) return null;
  }
  return params;
}

function decodePart(part) {
  try {
    return decodeURIComponent(part);
  } catch {
    return part; // A stray % in a hand-typed address is no reason to show a blank page.
  }
}

/** The path of the present address. A tag's own address `/t/CODE` becomes the route of that tag. */
export function presentPath(location, history) {
  const tag = /^\/t\/([^/]+)\/?$/i.exec(location.pathname);
  if (tag) history.replaceState(null, '', `/#/tag/${tag[1]}`);
  return location.hash.replace(/^#\/?/, '');
}

/** Calls `show(path)` now and whenever the address changes. */
export function followAddress(show) {
  const follow = () => show(presentPath(location, history));
  addEventListener('hashchange', follow);
  follow();
}
