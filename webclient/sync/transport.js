/** The only module that talks to home: requests with token, time limit and typed errors. */

import { sayings } from '../core/sayings.js';
import { HomeError } from './home_error.js';

const BASE_PATH = '/api/v1';
/** Time limits in milliseconds: a slow home computer and a weak network still answer within them. */
const WAIT_MS_MAX = 30_000;
const FILE_WAIT_MS_MAX = 180_000;

/**
 * @param {object} options
 * @param {() => Promise<string | null>} options.token
 * @param {() => Promise<Record<string, string>>} [options.manner] headers that name the language and units to be told in
 * @param {string} [options.base_url] '' when home also serves this page
 * @param {typeof fetch} [options.fetch]
 * @param {number} [options.wait_ms_max]
 * @returns {import('./types.js').Transport}
 */
export function createTransport({
  token, manner = () => ({}), base_url = '', fetch = globalThis.fetch.bind(globalThis), wait_ms_max = WAIT_MS_MAX,
}) {
  async function ask(method, path, { headers = {}, body, wait_ms = wait_ms_max, withToken = true, pass = [] } = {}) {
    const key = withToken ? await token() : null;
    const told = { ...await manner(), ...headers };
    const request = {
      method, body, cache: 'no-store', redirect: 'error', credentials: 'omit', signal: AbortSignal.timeout(wait_ms),
      headers: key ? { ...told, Authorization: `Bearer ${key}` } : told,
    };
    const answer = await fetch(`${base_url}${BASE_PATH}${path}`, request).catch(throwOffline);
    if (!answer.ok && !pass.includes(answer.status)) throw await errorFrom(answer);
    return answer;
  }
  const askJson = async (method, path, body, options = {}) => jsonOf(await ask(method, path, {
    ...options,
    headers: { ...(body === undefined ? {} : { 'Content-Type': 'application/json' }), Accept: 'application/json' },
    body: body === undefined ? undefined : JSON.stringify(body),
  }));

  return {
    pair: (code, device_name) => askJson('POST', '/pair', { code, device_name }, { withToken: false }),
    sync: (request) => askJson('POST', '/sync', request),
    async hasPhoto(sha256) {
      const answer = await ask('HEAD', `/photos/${sha256}`, { pass: [404] });
      // Home names the photo in its tag, whoever packs or weakens that on the way; a sign-in page has none.
      if (answer.ok && !answer.headers.get('ETag')?.includes(sha256)) throw notFromHome({ status: answer.status });
      return answer.ok;
    },
    async putPhoto(sha256, bytes, type) {
      const wait_ms = Math.max(wait_ms_max, FILE_WAIT_MS_MAX);
      const { status } = await ask('PUT', `/photos/${sha256}`, { headers: { 'Content-Type': type }, body: bytes, wait_ms });
      // The answer to a PUT has nothing that only home could say.
      if (!(await this.hasPhoto(sha256))) throw notFromHome({ status });
    },
    sendFile: async (path, file) => jsonOf(await ask('POST', path, {
      headers: { 'Content-Type': 'text/csv' }, body: file, wait_ms: Math.max(wait_ms_max, FILE_WAIT_MS_MAX),
    })),
    async getPhoto(sha256, width_px) {
      return blobOf(await ask('GET', `/photos/${sha256}${width_px ? `?width=${width_px}` : ''}`));
    },
    async overview(etag) {
      const headers = etag ? { 'If-None-Match': etag } : {};
      const answer = await ask('GET', '/overview', { headers, pass: [304] });
      if (answer.status === 304) return null;
      return { etag: answer.headers.get('ETag'), document: await jsonOf(answer) };
    },
    getJson: (path) => askJson('GET', path),
    sendJson: (method, path, body) => askJson(method, path, body),
    async getFile(path) {
      return blobOf(await ask('GET', path));
    },
  };
}

function throwOffline(cause) {
  throw new HomeError('offline', sayings.offline, { cause });
}

async function jsonOf(answer) {
  if (answer.status === 204) return null;
  const text = await answer.text().catch(throwOffline);
  try {
    return JSON.parse(text);
  } catch (cause) {
    throw notFromHome({ status: answer.status, cause });
  }
}

function blobOf(answer) {
  return answer.blob().catch(throwOffline);
}

/** Home's refusals are problem details, to a HEAD by their type alone; any other came from somebody else. */
async function errorFrom(answer) {
  const { status } = answer;
  const problem = await answer.json().catch(() => null);
  const more = { status, problem, retry_after_ms: retryAfterMs(answer.headers.get('Retry-After')) };
  const said = problem?.detail ?? problem?.title;
  if (status >= 500 || status === 429 || status === 408) {
    return new HomeError('busy', said ?? sayings.busy(status), more);
  }
  if (!answer.headers.get('Content-Type')?.startsWith('application/problem+json')) return notFromHome(more);
  if (status === 401) {
    return new HomeError('unauthorised', said ?? sayings.unknownPhone, more);
  }
  return new HomeError('refused', said ?? sayings.refused(status), more);
}

function notFromHome(more) {
  return new HomeError('garbled', sayings.notHome(more.status), more);
}

function retryAfterMs(header) {
  const seconds = Number(header);
  return header && Number.isFinite(seconds) && seconds >= 0 ? seconds * 1000 : null;
}
