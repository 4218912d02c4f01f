// Workers that run the program: what is asked first in the order of its rank, what nobody wants any more is dropped.

/// Stopped workers begin afresh with the first answer, or after this, ms.
const kRenewAfter = 100;

const kRanks = {answer: 0, table: 1, confirm: 2, map: 3, idle: 4};

export class Engine {
  /// One seat more than cores: the first is kept for answers, so that a map never stands in the way of a setting that moves.
  constructor(glue, worker, size = 1 + Math.max(2, Math.min(4, navigator.hardwareConcurrency || 2))) {
    this.url = URL.createObjectURL(new Blob([glue, '\n', worker], {type: 'text/javascript'}));
    this.size = size;
    this.queue = [];
    this.seats = [];
    this.count = 0;
    this.onload = () => {};
  }

  async start(base64) {
    const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
    const plain = new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip')));
    this.module = await WebAssembly.compile(await plain.arrayBuffer());
    for (let i = 0; i < this.size; ++i) this.seats.push(this.seat(i));
    await Promise.race(this.seats.map((seat) => seat.ready));
  }

  seat(index) {
    const seat = {index, busy: null, up: false};
    seat.worker = new Worker(this.url);
    seat.ready = new Promise((resolve, reject) => {
      seat.worker.onerror = (event) => reject(new Error(event.message || 'the worker did not start'));
      seat.worker.onmessage = ({data}) => {
        if (data.ready) {
          seat.up = true;
          resolve();
          this.next();
          return;
        }
        const job = seat.busy;
        seat.busy = null;
        if (job && job.id === data.id) {
          if (data.answer.broken) this.stop(seat); // its memory may be in any state
          job.resolve({...data.answer, ms: data.ms});
        }
        this.renew();
        this.next();
      };
    });
    seat.worker.postMessage({module: this.module});
    return seat;
  }

  stop(seat) {
    seat.worker.terminate();
    seat.up = false;
    seat.stopped = true;
  }

  /// Workers that were stopped begin afresh: not at once, for a setting that moves wants the cores for its answer.
  renew() {
    clearTimeout(this.renewing);
    this.renewing = undefined;
    for (const {index, stopped} of this.seats) if (stopped) this.seats[index] = this.seat(index);
  }
  renewLater() {
    this.renewing ??= setTimeout(() => this.renew(), kRenewAfter);
  }

  /// request: {args, files, read, profile}; rank: answer, table, confirm, map or idle; group: what drop() names; brief: worth finishing.
  run(request, {rank = 'answer', group = '', brief = false} = {}) {
    return new Promise((resolve) => {
      this.queue.push({id: ++this.count, request, rank: kRanks[rank], group, brief, resolve});
      this.queue.sort((a, b) => a.rank - b.rank || a.id - b.id);
      this.next();
    });
  }

  /// Nobody waits for these any more: their promises resolve to null. A worker in the middle of a long one begins afresh.
  drop(...groups) {
    for (const job of this.queue.filter((each) => groups.includes(each.group))) job.resolve(null);
    this.queue = this.queue.filter((job) => !groups.includes(job.group));
    for (const seat of this.seats) {
      if (!seat.busy || !groups.includes(seat.busy.group)) continue;
      seat.busy.resolve(null);
      if (seat.busy.brief) continue;
      seat.busy = null;
      this.stop(seat);
      this.renewLater();
    }
  }

  next() {
    for (const seat of this.seats) {
      if (!seat.up || seat.busy) continue;
      const at = this.queue.findIndex((job) => seat.index > 0 || job.rank <= kRanks.table || this.size === 1);
      if (at < 0) continue;
      const [job] = this.queue.splice(at, 1);
      seat.busy = job;
      seat.worker.postMessage({id: job.id, ...job.request});
    }
    this.onload(this.queue.length + this.seats.filter((seat) => seat.busy).length);
  }
}
