import assert from "node:assert/strict";
import { test } from "node:test";

const { Draft, Newest } = await import(`${process.env.FRONTEND}/plan/server.js`);

/** Something that is answered when the test says so. */
function awaited() {
  const waiting = [];
  const send = (what) => new Promise((resolve, reject) => waiting.push({ what, resolve, reject }));
  return { waiting, send };
}

const turn = () => new Promise((resolve) => setTimeout(resolve));

test("one question is on its way and one waits, the newest", async () => {
  const { waiting, send } = awaited();
  const taken = [];
  const newest = new Newest(send, (answer) => taken.push(answer));
  for (const what of [1, 2, 3, 4]) newest.ask(what);
  assert.deepEqual(waiting.map(({ what }) => what), [1]);
  waiting[0].resolve("one");
  await turn();
  // What was asked first is old by now.
  assert.deepEqual([waiting.map(({ what }) => what), taken], [[1, 4], []]);
  waiting[1].resolve("four");
  await turn();
  assert.deepEqual(taken, ["four"]);
});

test("a question that fails keeps no other from being asked", async () => {
  const { waiting, send } = awaited();
  const [taken, failed] = [[], []];
  const newest = new Newest(send, (answer) => taken.push(answer), (error) => failed.push(error.message));
  newest.ask(1);
  waiting[0].reject(new Error("no"));
  await turn();
  newest.ask(2);
  waiting[1].resolve("two");
  await turn();
  assert.deepEqual([taken, failed], [["two"], ["no"]]);
});

/** A draft whose server is the test. */
function drafted() {
  const { waiting, send } = awaited();
  const kept = new Map();
  const told = [];
  const clashes = [];
  const storage = { getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => kept.set(key, value), removeItem: (key) => kept.delete(key) };
  const session = { call: (name, fields) => send({ name, ...fields }) };
  const how = { key: "E", told: (status) => told.push(status), stored: () => {}, conflict: (theirs) => clashes.push(theirs), storage };
  const draft = new Draft(session, how);
  draft.begin(3, { a: 0 });
  return { draft, waiting, kept, told, clashes };
}

test("what is drawn while a draft is being stored is stored after it", async () => {
  const { draft, waiting, kept } = drafted();
  draft.changed({ a: 1 });
  const saved = draft.save();
  draft.changed({ a: 2 });
  assert.deepEqual(JSON.parse([...kept.values()][0]).document, { a: 2 });
  waiting[0].resolve({ saved: true, revision: 4 });
  await turn();
  // It is on its way, and still kept here.
  assert.deepEqual([draft.status, kept.size], ["saving", 1]);
  assert.deepEqual([waiting[1].what.revision, waiting[1].what.document], [4, { a: 2 }]);
  waiting[1].resolve({ saved: true, revision: 5 });
  assert.equal(await saved, true);
  assert.deepEqual([draft.status, draft.revision, kept.size], ["saved", 5, 0]);
});

test("of two drawings neither is lost", async () => {
  const { draft, waiting, clashes } = drafted();
  draft.changed({ mine: 1 });
  const saved = draft.save();
  waiting[0].resolve({ saved: false, reason: "stale", revision: 9, document: { theirs: 1 } });
  assert.equal(await saved, false);
  assert.equal(clashes.length, 1);
  // Until somebody decides nothing is stored over the other's.
  draft.changed({ mine: 2 });
  assert.equal(await draft.save(), false);
  assert.equal(waiting.length, 1);
  const kept = draft.keepMine();
  assert.deepEqual([waiting[1].what.revision, waiting[1].what.document], [9, { mine: 2 }]);
  waiting[1].resolve({ saved: true, revision: 10 });
  assert.equal(await kept, true);
});

test("another browser's revision is fetched, unless something is drawn here", async () => {
  const { draft, waiting } = drafted();
  assert.equal(draft.heard({ revision: 4, mine: true }), false);
  assert.equal(draft.heard({ revision: 3, mine: false }), false);
  assert.equal(draft.heard({ revision: 4, mine: false }), true);
  draft.changed({ mine: 1 });
  assert.equal(draft.heard({ revision: 4, mine: false }), false);
  assert.equal(waiting[0].what.revision, 3);
  waiting[0].resolve({ saved: false, reason: "stale", revision: 4, document: {} });
  await turn();
  assert.equal(draft.status, "conflict");
});

test("what is not stored is there for the next page", async () => {
  const { draft, waiting } = drafted();
  draft.changed({ mine: 1 });
  const saved = draft.save();
  waiting[0].reject(new Error("gone"));
  assert.equal(await saved, false);
  assert.equal(draft.status, "offline");
  assert.deepEqual(draft.left(), { revision: 3, document: { mine: 1 } });
  draft.stop();
});
