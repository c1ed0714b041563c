// Labels that never collide and keep their order: touching ones merge into a block that is
// centred on its members' mean (pool adjacent, linear time). No DOM here.

function blockOf(label) {
  return { size: label.size, pull: label.at - label.size / 2, members: [label], count: 1 };
}

function topOf(block, { low, high }) {
  const wanted = block.pull / block.count;
  return Math.min(Math.max(wanted, low), Math.max(low, high - block.size));
}

function merge(upper, lower, gap) {
  const shift = upper.size + gap;
  return {
    size: shift + lower.size,
    pull: upper.pull + lower.pull - lower.count * shift,
    members: [...upper.members, ...lower.members],
    count: upper.count + lower.count,
  };
}

function touch(upper, lower, room) {
  return topOf(upper, room) + upper.size + room.gap > topOf(lower, room);
}

/**
 * Labels {at: wanted centre, size} between low and high; gives them back in order with `centre`
 * set, and whether all of them found room.
 */
export function spreadLabels(labels, { low, high, gap = 2 }) {
  const room = { low, high, gap };
  const blocks = [];
  for (const label of [...labels].sort((a, b) => a.at - b.at)) {
    let block = blockOf(label);
    while (blocks.length && touch(blocks.at(-1), block, room)) {
      block = merge(blocks.pop(), block, gap);
    }
    blocks.push(block);
  }
  const placed = [];
  for (const block of blocks) {
    let top = topOf(block, room);
    for (const label of block.members) {
      placed.push({ ...label, centre: top + label.size / 2 });
      top += label.size + gap;
    }
  }
  const needed = labels.reduce((sum, label) => sum + label.size, 0) + gap * (labels.length - 1);
  return { placed, fits: needed <= high - low };
}

/** Pieces of one lot share a label unless more than `apart` mm lies between neighbours. */
export function groupByLot(pieces, apart = 40) {
  const groups = [];
  const open = new Map();
  const sorted = [...pieces].sort((a, b) => b.above_bottom_mm - a.above_bottom_mm);
  for (const piece of sorted) {
    let group = open.get(piece.lot);
    if (!group || group.at(-1).above_bottom_mm - piece.above_bottom_mm > apart) {
      group = [];
      groups.push(group);
      open.set(piece.lot, group);
    }
    group.push(piece);
  }
  return groups;
}

/** Two lanes: a piece takes the lane whose last piece is farther away. */
export function assignLanes(ys, size) {
  const last = [-Infinity, -Infinity];
  const order = ys.map((y, index) => [y, index]).sort((a, b) => a[0] - b[0]);
  const lanes = new Array(ys.length);
  for (const [y, index] of order) {
    const lane = y - last[0] >= size || last[0] <= last[1] ? 0 : 1;
    lanes[index] = lane;
    last[lane] = y;
  }
  return lanes;
}

/** The first stretch where two like shapes lie within `near` mm, as {low, high} or null. */
export function crowdedStretch(pieces, near = 5) {
  const sorted = [...pieces].sort((a, b) => a.above_bottom_mm - b.above_bottom_mm);
  for (const [i, piece] of sorted.entries()) {
    const like = sorted.slice(i + 1).find((other) => other.shape === piece.shape
      && other.above_bottom_mm - piece.above_bottom_mm <= near);
    if (like) return widen(sorted, piece.above_bottom_mm, like.above_bottom_mm, near);
  }
  return null;
}

function widen(sorted, low, high, near) {
  const inside = sorted.filter((piece) => piece.above_bottom_mm >= low - near
    && piece.above_bottom_mm <= high + near).map((piece) => piece.above_bottom_mm);
  return { low: Math.min(...inside) - near, high: Math.max(...inside) + near };
}
