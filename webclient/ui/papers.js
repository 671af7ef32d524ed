// A file, of home's or of this phone's own making, saved where the browser keeps what it downloads.

/**
 * Asks home for a file and saves it under a name; what goes wrong is told on the slip.
 * @param {object} ctx
 * @param {string} path under the API
 * @param {string} name
 */
export async function fetchFile(ctx, path, name) {
  const file = await ctx.saving(() => ctx.home.getFile(path));
  if (file) saveFile(file, name);
}

/** Saves a Blob under a name. */
export function saveFile(file, name) {
  const link = Object.assign(document.createElement('a'), { href: URL.createObjectURL(file), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
