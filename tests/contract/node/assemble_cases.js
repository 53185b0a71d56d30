// A shot assembled live: edits in, changes out, until the plan is final; refused edits; lost streams.
'use strict';

const assert = require('assert');
const {unary, detailsOf, refusalOf, after, errorOf, status, PATIENCE_MS} = require('./calls.js');
const {people, standing} = require('./stage.js');
const {assertFaultsNamed} = require('./plan_cases.js');

const bytewise = (a, b) => Buffer.compare(Buffer.from(a), Buffer.from(b));

// One stream of a session, and what a client keeps of it.
class Session {
  constructor(client, first, patienceMs = PATIENCE_MS) {
    this.decisions = new Map();
    this.update = 0;
    this.answers = [];
    this.waiting = null;
    this.call = client.AssembleShot(after(patienceMs));
    this.call.on('data', (answer) => this.arrived(answer));
    this.ended = new Promise((resolve, reject) => {
      this.call.on('end', resolve);
      this.call.on('error', reject);
    });
    this.ended.catch(() => {});  // looked at where a case wants to know
    this.call.write(first);
  }

  arrived(answer) {
    if (answer.part === 'update') this.takeIn(answer.update);
    this.answers.push(answer);
    if (this.waiting) this.waiting();
  }

  // As assembly.proto says: parts together with the last, gone objects before decisions, provisional ones not at all.
  takeIn(update) {
    if (update.state === 'PROVISIONAL') return;
    this.parts = (this.parts || []).concat(update);
    if (update.continues) return;
    for (const part of this.parts) {
      if (part.anew) this.decisions.clear();
      for (const id of part.gone_ids) this.decisions.delete(id);
      for (const decision of part.decisions) this.decisions.set(decision.object_id, decision);
    }
    this.parts = null;
    this.update = update.number;
    if (update.summary) this.summary = update.summary;
  }

  // The first answer, of those that came and will come, for which `wanted` holds.
  async await(wanted) {
    for (let seen = 0;; ++seen) {
      while (seen === this.answers.length) {
        await Promise.race([new Promise((resolve) => { this.waiting = resolve; }),
                            this.ended.then(() => { throw new Error('the stream ended before that'); })]);
      }
      if (wanted(this.answers[seen])) return this.answers[seen];
    }
  }

  started() { return this.await((a) => a.part === 'started').then((a) => a.started); }

  final(revision) {
    return this.await(({part, update}) => part === 'update' && update.state === 'FINAL' && !update.continues &&
                                          update.revision === revision);
  }

  edit(revision, edit) { this.call.write({edit: {...edit, revision}}); }

  // Bytewise by id, as a plan has them.
  sorted() { return [...this.decisions.values()].sort((a, b) => bytewise(a.object_id, b.object_id)); }

  async close() {
    this.call.write({close: {}});
    await this.ended;
  }
}

const headerOf = (shot) => ({...shot, objects: []});

async function begin(client, shot, options) {
  const session = new Session(client, {begin: {header: headerOf(shot), options}});
  const started = await session.started();
  assert.strictEqual(started.resumed, false);
  assert.strictEqual(started.revision, 0);
  assert(started.session_id.length > 0 && started.keep_s > 0);
  session.id = started.session_id;
  return session;
}

// With a final update, what the session told is what PlanShot answers for the same shot.
async function assertAsPlanned(session, client, shot, options) {
  const {plan} = await unary(client, 'PlanShot', {shot, options});
  assert.deepStrictEqual(session.sorted(), plan.decisions);
  assert.deepStrictEqual({...session.summary, decisions: []}, {...plan, decisions: []});
}

async function tightBudget(client, shot) {
  const {plan} = await unary(client, 'PlanShot', {shot});
  return {anim_hours: 0.7 * plan.totals.plan.anim_hours.mean};
}

// Objects come, one moves, one goes, one joins; after each edit's final update all is as planned afresh.
async function assembleWithin(client, options, shot) {
  const session = await begin(client, shot, options);
  session.edit(1, {objects: shot.objects});
  await session.final(1);
  await assertAsPlanned(session, client, shot, options);

  const moved = standing('p3', 'person', 0.5, -6);
  const joined = standing('late', 'person', -0.5, -7);
  session.edit(2, {objects: [moved, joined], removed_ids: ['p1']});
  await session.final(2);
  const objects = shot.objects.filter((o) => o.id !== 'p1').map((o) => o.id === 'p3' ? moved : o).concat(joined);
  await assertAsPlanned(session, client, {...shot, objects}, options);
  assert(!session.decisions.has('p1') && session.decisions.has('late'));
  await session.close();
}

const cases = {
  async assemble(client) { await assembleWithin(client, {}, people(30)); },

  async assemble_in_budget(client) {
    const shot = people(30);
    await assembleWithin(client, await tightBudget(client, shot), shot);
  },

  async assemble_refuses(client) {
    const shot = people(5);
    const session = await begin(client, shot);
    session.edit(1, {objects: shot.objects});
    session.edit(2, {objects: [standing('odd', 'no_such_class', 0, -9)], removed_ids: ['nobody']});
    session.edit(3, {removed_ids: ['p2']});
    const {refusal} = await session.await((a) => a.part === 'refusal');
    assert.strictEqual(refusal.revision, 2);
    assert.strictEqual(refusal.status.code, status.INVALID_ARGUMENT);
    const details = detailsOf(refusal.status);
    assert.strictEqual(details.ErrorInfo[0].domain, 'scantling.v1');
    assertFaultsNamed(details.BadRequest[0].field_violations, ['objects[0].class_name', 'removed_ids[0]']);
    await session.final(3);
    await assertAsPlanned(session, client, {...shot, objects: shot.objects.filter((o) => o.id !== 'p2')});
    await session.close();
  },

  // A stream runs into its deadline; the session is resumed by another, which gets what was missed and nothing else.
  async assemble_resumes(client) {
    const shot = people(20);
    const session = new Session(client, {begin: {header: headerOf(shot)}}, 3000);
    const {session_id: id} = await session.started();
    session.edit(1, {objects: shot.objects});
    await session.final(1);
    assert.strictEqual((await errorOf(session.ended)).code, status.DEADLINE_EXCEEDED);

    const again = new Session(client, {resume: {session_id: id, update: session.update}});
    const started = await again.started();
    assert.deepStrictEqual([started.resumed, started.revision, started.update], [true, 1, session.update]);
    again.decisions = session.decisions;
    again.edit(2, {removed_ids: ['p7']});
    await again.final(2);
    await assertAsPlanned(again, client, {...shot, objects: shot.objects.filter((o) => o.id !== 'p7')});
    assert(!again.answers.some((a) => a.part === 'update' && a.update.anew));
    await again.close();

    const gone = new Session(client, {resume: {session_id: id, update: 0}});
    const error = await errorOf(gone.ended);
    assert.strictEqual(error.code, status.NOT_FOUND);
    assert.strictEqual(refusalOf(error).ErrorInfo[0].reason, 'SESSION_UNKNOWN');
  },
};

module.exports = {cases};
