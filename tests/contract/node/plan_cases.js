// Plans, checks, frontiers, refusals and deadlines: what is asked once and answered once, or by a stream.
'use strict';

const assert = require('assert');
const {unary, readAll, refusalOf, after, errorOf, status, PATIENCE_MS} = require('./calls.js');
const {people, standing, blockOf} = require('./stage.js');

const kindsOf = (answers) => answers.map((answer) => answer.part);
const sortedIds = (shot) => shot.objects.map((o) => o.id).sort();

// A faulty second porter: his id is taken and his class unknown.
function faultyShot() {
  const shot = people(2);
  shot.objects.push(standing('p1', 'no_such_class', 0, -9));
  return shot;
}

function assertFaultsNamed(faults, wanted) {
  const fields = faults.map((fault) => fault.field || fault.path);
  for (const field of wanted) assert(fields.some((got) => got.includes(field)), `${field} in ${fields}`);
  for (const {description} of faults) assert.match(description, /got .*want /);
}

const cases = {
  async plan(client) {
    const {plan} = await unary(client, 'PlanShot', {shot: people(12)});
    assert.deepStrictEqual(plan.decisions.map((d) => d.object_id), sortedIds(people(12)));
    assert.strictEqual(plan.decisions[0].object_id, 'lamplighter');
    assert.strictEqual(plan.decisions[0].tier, 'FULL_RIG');
    assert.strictEqual(plan.mode, 'unseen');
    assert.strictEqual(plan.totals.objects, 12);
    assert(plan.totals.plan.anim_hours.mean > 0);
  },

  async check(client) {
    const good = await unary(client, 'CheckShot', {shot: people(12)});
    assert.deepStrictEqual([good.fault_count, good.objects, good.frames, good.cameras], [0, 12, 24, 1]);
    const bad = await unary(client, 'CheckShot', {shot: faultyShot()});
    assert.strictEqual(bad.fault_count, 2);
    assertFaultsNamed(bad.faults, ['objects[2].id', 'objects[2].class_name']);
  },

  async frontier(client) {
    const answers = await readAll(client.TraceFrontier({shot: people(40), points: 5}, after(PATIENCE_MS)));
    const told = answers.filter((answer) => answer.part !== 'progress');
    assert.deepStrictEqual(kindsOf(told), ['point', 'point', 'point', 'point', 'point', 'summary']);
    const points = told.slice(0, 5).map((answer) => answer.point);
    assert.deepStrictEqual(points.map((p) => p.index), [0, 1, 2, 3, 4]);
    for (let i = 1; i < 5; ++i) {
      assert(points[i].anim_hours < points[i - 1].anim_hours, 'the loosest first');
      // What fits the tighter budget fits the looser one: its bound is no higher than any tighter plan's loss.
      assert(points[i - 1].loss_bound <= points[i].loss, `point ${i}`);
    }
    assert.strictEqual(told[5].summary.nothing_lost_anim_hours, points[0].anim_hours);
  },

  // Rows and blocks by stream are the shot that goes in one message.
  async large(client) {
    const shot = people(60);
    const {plan} = await unary(client, 'PlanShot', {shot});
    const call = client.PlanLargeShot(after(PATIENCE_MS));
    const reading = readAll(call);
    call.write({start: {shot: {...shot, objects: []}}});
    call.write({rows: {objects: shot.objects.slice(0, 20)}});
    call.write({block: blockOf(shot.objects.slice(20))});
    call.end();
    const answers = await reading;
    assert.strictEqual(answers[answers.length - 1].part, 'summary');
    const decisions = answers.filter((a) => a.part === 'decisions').flatMap((a) => a.decisions.decisions);
    assert.deepStrictEqual(decisions, plan.decisions);
    const summary = answers[answers.length - 1].summary.plan;
    assert.deepStrictEqual(summary.totals, plan.totals);
  },

  async refusal(client) {
    const error = await errorOf(unary(client, 'PlanShot', {shot: faultyShot()}));
    assert.strictEqual(error.code, status.INVALID_ARGUMENT);
    const refusal = refusalOf(error);
    assert.strictEqual(refusal.code, status.INVALID_ARGUMENT);
    const [{reason, domain}] = refusal.ErrorInfo;
    assert.deepStrictEqual([reason, domain], ['SHOT_INVALID', 'scantling.v1']);
    assertFaultsNamed(refusal.BadRequest[0].field_violations, ['objects[2].id', 'objects[2].class_name']);

    const broke = await errorOf(unary(client, 'PlanShot', {
      shot: {...people(12), directives: [{object_id: 'p1', bound: 'EXACTLY', tier: 'FULL_RIG'}]},
      options: {anim_hours: 0},
    }));
    assert.strictEqual(broke.code, status.FAILED_PRECONDITION);
    const why = refusalOf(broke);
    assert.strictEqual(why.ErrorInfo[0].reason, 'NO_PLAN_FITS');
    assert(Number(why.ErrorInfo[0].metadata.least_anim_hours) > 0);
    assert(why.PreconditionFailure[0].violations.length > 0);
  },

  async deadline(client) {
    // A stream of which the daemon waits for more cannot end before its deadline.
    const call = client.PlanLargeShot(after(200));
    const reading = errorOf(readAll(call));
    call.write({start: {shot: people(1)}});
    assert.strictEqual((await reading).code, status.DEADLINE_EXCEEDED);
    // Two thousand people over twenty thousand frames: forty million to measure, over a second on two cores.
    const long = await errorOf(unary(client, 'PlanShot', {shot: people(2000, 20000)}, 100));
    assert.strictEqual(long.code, status.DEADLINE_EXCEEDED);
    await cases.plan(client);  // and the channel is as good as before
  },
};

module.exports = {cases, assertFaultsNamed};
