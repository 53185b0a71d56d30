// The shot the cases send: a camera at eye height looking down -Z, 24 frames, people on the ground before it.
'use strict';

const STILL = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0];

function stage(frames = 24) {
  return {
    shot_id: 'qy_010',
    style: 'ink',
    frames: {first: 1001, last: 1000 + frames},
    rate: {numerator: 24, denominator: 1},
    cameras: [{
      id: 'main',
      window_width: 36,
      window_height: 15,
      focal_mm: [35],
      image_width_px: 2048,
      image_height_px: 853,
      near_m: 0.1,
      transform: {matrices: [...STILL, 0, 1.6, 0, 1]},
    }],
    objects: [],
  };
}

function standing(id, className, x, z) {
  return {
    id,
    class_name: className,
    box: {min_m: {x: -0.25, y: 0, z: -0.25}, max_m: {x: 0.25, y: 1.75, z: 0.25}},
    transform: {matrices: [...STILL, x, 0, z, 1]},
  };
}

// A lead five metres away, then people in rows of ten behind one another.
function people(count, frames) {
  const shot = stage(frames);
  shot.objects.push(standing('lamplighter', 'lead', 0, -5));
  for (let i = 1; i < count; ++i) {
    const z = -8 - 3 * Math.floor(i / 10);
    shot.objects.push(standing(`p${i}`, 'person', (i % 10 - 5) * 0.06 * -z, z));
  }
  return shot;
}

// The same objects as packed columns. Numbers are exact in binary or rounded alike by both forms' readers.
function blockOf(objects) {
  const classes = [...new Set(objects.map((o) => o.class_name))];
  const corners = (box) => [box.min_m, box.max_m].flatMap((p) => [p.x, p.y, p.z]);
  const linear = (m) => [...m.slice(0, 3), ...m.slice(4, 7), ...m.slice(8, 11)];
  return {
    id_blob: Buffer.from(objects.map((o) => o.id).join('')),
    id_lengths: objects.map((o) => Buffer.byteLength(o.id)),
    class_names: classes,
    class_of: objects.map((o) => classes.indexOf(o.class_name)),
    boxes_m: objects.flatMap((o) => corners(o.box)),
    linear: objects.flatMap((o) => linear(o.transform.matrices)),
    translation_m: objects.flatMap((o) => o.transform.matrices.slice(12, 15)),
  };
}

module.exports = {stage, standing, people, blockOf};
