// Phones in one process: the client's store and engine on an IndexedDB in memory. A line of JSON in asks, one out answers.
import 'fake-indexeddb/auto';
import { readFileSync } from 'node:fs';
import { createInterface } from 'node:readline';

const client = process.argv[2];
const at = (file) => import(`${client}/${file}`);
const makeFleet = (0, eval)(readFileSync(process.argv[3], 'utf8'));
const fleet = makeFleet(await Promise.all(['store/open.js', 'sync/run.js', 'sync/home_error.js', 'core/shapes.js'].map(at)));

for await (const line of createInterface({ input: process.stdin })) {
  const [method, ...told] = JSON.parse(line);
  const answer = await Promise.resolve()
    .then(() => fleet[method](...told))
    .then((value) => ({ value: value ?? null }), (error) => ({ error: String(error?.stack ?? error) }));
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
process.exit(0);
