// A school that remembers all it took, a network and a disk that fail, and lives of a page that
// end in the middle of things. Every sequence follows from its seed.

const PERSON = "ben";
const OTHER = "dov";
const STORES = ["drafts", "letters", "receipts", "cards", "facts"];

function randomOf(seed) {
  let state = seed * 2654435761 >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** The school: versions, keys, and everything it ever took. */
class School {
  constructor() {
    Object.assign(this, { records: new Map(), keys: new Map(), taken: [], bodies: new Map(), foreign: 0 });
  }

  record(id) {
    return this.records.get(id) ?? { version: 0, card: null, state: "draft" };
  }

  save(id, card, state) {
    this.records.set(id, { version: this.record(id).version + 1, card, state });
  }

  take(id, headers, body, user) {
    const key = headers["Idempotency-Key"];
    const before = this.bodies.get(key);
    if (before !== undefined && before !== body) this.faults.push(`other bytes under ${key}`);
    this.bodies.set(key, body);
    if (headers["X-Author"] !== user) this.foreign += 1;
    if (headers["X-Author"] !== user) return [403, { reason: "author" }];
    if (this.keys.has(key)) return this.keys.get(key);
    const { card, signed } = JSON.parse(body);
    const now = this.record(id);
    if (headers["If-Match"] !== `"${now.version}"` || now.state === "signed") {
      return [412, { version: now.version, theirs: now.card, state: now.state, differences: [{ where: "words" }] }];
    }
    this.save(id, card, signed ? "signed" : "draft");
    this.taken.push({ id, words: card.remarks, signed: Boolean(signed), key });
    const { version, state } = this.record(id);
    this.keys.set(key, [200, { record: id, version, state, saved: "now", receipt: signed ? { seq: 1 } : null }]);
    return this.keys.get(key);
  }
}

class Model {
  constructor(seed) {
    this.random = randomOf(seed);
    this.seed = seed;
    this.school = new School();
    this.school.faults = this.faults = [];
    this.user = PERSON;
    this.weather = "fair";
    this.disk = false;
    this.records = ["a", "b"].map((name) => `${seed}${name}`);
    this.said = new Map(this.records.map((id) => [id, { typed: 0, kept: 0, signed: null }]));
  }

  pick(list) {
    return list[Math.floor(this.random() * list.length)];
  }

  isFull() {
    return this.disk && this.random() < 0.5;
  }

  /** A new page; the one before is gone at once, whatever it was doing. */
  async live() {
    this.die();
    const frame = document.createElement("iframe");
    const begun = new Promise((tell) => (this.born = tell));
    frame.src = "/life";
    document.body.append(frame);
    this.frame = frame;
    this.page = await begun;
  }

  die() {
    this.frame?.remove();
    this.frame = null;
    this.page = null;
    this.ended?.();
  }

  fate() {
    const fates = {
      fair: ["whole"],
      away: ["lost"],
      storm: ["whole", "lost", "cut", "busy", "signed-out", "dies", "dies-after"],
    };
    return this.pick(fates[this.weather]);
  }

  network(page, address, how = {}) {
    const fate = this.fate();
    const failed = () => Promise.reject(new page.TypeError("network"));
    if (fate === "lost") return failed();
    if (fate === "dies") return this.die() ?? new Promise(() => {});
    const [status, told] = this.answer(address, how, fate);
    if (fate === "cut") return failed();
    if (fate === "dies-after") return this.die() ?? new Promise(() => {});
    const headers = { "Content-Type": "application/json" };
    return Promise.resolve(new page.Response(JSON.stringify(told), { status, headers }));
  }

  answer(address, how, fate) {
    if (fate === "busy") return [503, { error: "busy" }];
    if (fate === "signed-out") return [401, { error: "signed out" }];
    if (address === "/api/token") return [200, { csrf: "token", person: { id: this.user, name: this.user } }];
    return this.school.take(address.split("/").at(-1), how.headers, how.body, this.user);
  }

  row(id) {
    return { person: PERSON, record: id, enrolment: "e", lesson: "l", version: 0 };
  }

  words(id, n) {
    return { title: id, card: { remarks: `${id} ${n}`, entries: [] } };
  }

  /** Run an act of the page; a life that ends meanwhile ends the act, and nothing is promised. */
  async run(act) {
    const over = new Promise((tell) => (this.ended = () => tell("over")));
    const done = (async () => act(this.page))().then(() => "done", (error) => this.excuse(error));
    const came = await Promise.race([done, over]);
    this.ended = null;
    if (!this.page) await this.live();
    return came;
  }

  excuse(error) {
    if (this.disk || !this.page) return "full";
    this.faults.push(`${error.name}: ${error.message}`);
    return "failed";
  }

  async type(id) {
    const said = this.said.get(id);
    if (said.signed) return;
    const n = (said.typed += 1);
    const came = await this.run(({ drafts }) => drafts.keep(this.row(id), this.words(id, n)));
    if (came === "done") said.kept = n;
  }

  async sign(id) {
    const said = this.said.get(id);
    if (said.signed || !said.kept) return;
    const came = await this.run(async ({ drafts, letters }) => {
      const draft = await drafts.find(PERSON, id);
      if (!draft?.dirty) return;
      said.signed = "perhaps";
      await letters.post(draft, draft.words, { text: "t", sig: "s", kid: "k" });
      said.signed = "yes";
    });
    if (came === "full" && said.signed === "perhaps") said.signed = null;
  }

  elsewhere(id) {
    if (this.school.record(id).state === "draft") this.school.save(id, { remarks: "theirs" }, "draft");
  }

  async step() {
    const id = this.pick(this.records);
    this.weather = this.pick(["fair", "away", "away", "storm", "storm", "storm"]);
    this.user = this.random() < 0.15 ? OTHER : PERSON;
    this.disk = this.random() < 0.15;
    const act = this.pick(["type", "type", "type", "flush", "flush", "flush", "sign", "kill", "elsewhere"]);
    if (act === "type") await this.type(id);
    if (act === "sign") await this.sign(id);
    if (act === "flush") await this.run(({ outbox }) => outbox.flush(true));
    if (act === "kill") await this.live();
    if (act === "elsewhere") this.elsewhere(id);
  }

  /** The network is back, the author is signed in, and takes their own words in every conflict. */
  async heal() {
    Object.assign(this, { weather: "fair", user: PERSON, disk: false });
    for (let tries = 0; tries < 12; tries += 1) {
      let left = 0;
      await this.run(async ({ outbox, letters, drafts }) => {
        await outbox.flush(true);
        for (const letter of await letters.all()) {
          left += 1;
          const { version, state } = await letters.answerTo(letter);
          if (letter.state === "conflict" && state === "signed") await letters.forget(letter);
          else if (letter.state === "conflict") await letters.note(letter.key, { state: "waiting", base: version });
        }
        left += (await drafts.dirty()).length;
      });
      if (!left) return;
    }
    this.faults.push("something still waits");
  }

  judge() {
    for (const [id, said] of this.said) {
      const taken = this.school.taken.filter((one) => one.id === id);
      const numbers = taken.map((one) => Number(one.words.split(" ")[1]));
      if (said.kept && !numbers.some((n) => n >= said.kept)) this.faults.push(`${id}: words ${said.kept} lost, taken ${numbers}`);
      if (new Set(taken.map((one) => `${one.words} ${one.signed}`)).size !== taken.length) this.faults.push(`${id}: words taken twice`);
      const signed = taken.filter((one) => one.signed).length;
      if (signed > 1 || (said.signed === "yes" && signed !== 1)) this.faults.push(`${id}: signed ${signed} times`);
    }
    if (this.school.foreign) this.faults.push("sent under somebody else's session");
  }

  async play() {
    await this.live();
    const steps = 6 + Math.floor(this.random() * 10);
    for (let at = 0; at < steps; at += 1) await this.step();
    await this.heal();
    this.judge();
    await this.page.db.change(STORES, () => {});
    this.die();
    return this.faults;
  }
}

const clear = () =>
  new Promise((done) => {
    const asked = indexedDB.deleteDatabase("windtee");
    asked.onsuccess = asked.onerror = asked.onblocked = done;
  });

/** Play the sequences of these seeds; the faults of each that has some. */
globalThis.play = async (first, many) => {
  const found = [];
  for (let seed = first; seed < first + many; seed += 1) {
    globalThis.model = new Model(seed);
    const faults = await globalThis.model.play();
    if (faults.length) found.push(`seed ${seed}: ${faults.join("; ")}`);
    await clear();
  }
  return found;
};
