// A fleet of phones on the real store and engine, driven from outside: an expression that makes one from the modules.
([{ openStore }, { runOnce }, { HomeError }, { KINDS }]) => {
  const phones = new Map();
  let now_ms = 0;

  class Tab {
    constructor(store) {
      Object.assign(this, { store, awaited: null, running: false, pace: { changes_max: 500 }, wake: () => {} });
    }

    /** The request of the run once it makes one, or null once the run is over. */
    next() {
      return new Promise((resolve) => {
        this.wake = () => resolve(this.awaited?.request ?? null);
        if (this.awaited || !this.running) this.wake();
      });
    }

    start() {
      if (this.running) return null;
      this.running = true;
      const transport = {
        sync: (request) => new Promise((resolve, reject) => {
          this.awaited = { request, resolve, reject };
          this.wake();
        }),
        overview: async () => null,
      };
      const clock = { now: () => now_ms };
      runOnce({ store: this.store, transport, clock, pace: this.pace, onProgress() {} }).then((outcome) => {
        this.running = false;
        this.outcome = outcome;
        this.wake();
      });
      return this.next();
    }

    receive(answer) {
      const { resolve, reject } = this.awaited;
      this.awaited = null;
      if (answer) resolve(answer);
      else reject(new HomeError('offline', 'no answer'));
      return this.next();
    }
  }

  return {
    async open(name, tabs) {
      phones.get(name)?.forEach(({ store }) => store.close());
      phones.set(name, await Promise.all(Array.from({ length: tabs }, async () => (
        new Tab(await openStore({ name, now: () => now_ms }))))));
    },
    async save(name, at_ms, kind, record, set) {
      now_ms = at_ms;
      return (await phones.get(name)[0].store.records.save(kind, record, set)).n;
    },
    start: (name, tab) => phones.get(name)[tab].start(),
    async receive(name, tab, answer) {
      const request = await phones.get(name)[tab].receive(answer);
      const { outcome, running } = phones.get(name)[tab];
      if (!running && !['idle', 'offline'].includes(outcome.phase)) throw new Error(JSON.stringify(outcome));
      return request;
    },
    async view(name) {
      const { records } = phones.get(name)[0].store;
      return (await Promise.all(Object.keys(KINDS).map((kind) => records.list(kind, { voided: true })))).flat();
    },
    async pocket(name) {
      const { outbox } = phones.get(name)[0].store;
      return [(await outbox.summary()).unsent, (await outbox.parked()).map(({ change }) => change.n)];
    },
  };
}
