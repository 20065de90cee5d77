// The drill: which putt comes next, from the plan and a seed. Pure: the same seed gives the same order.

/** Numbers from 0 to 1 from a seed (mulberry32). */
export function randomFrom(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** Lengths of a block in the order in which they are putted: runs of three, or drawn, never one twice running. */
export function drawnOrder(block, seed) {
  const { lengths_m: lengths, putts } = block;
  if (block.order === "runs of three") return Array.from({ length: putts }, (_, k) => lengths[Math.floor(k / 3) % lengths.length]);
  const random = randomFrom(seed);
  const order = [];
  while (order.length < putts) {
    const round = [...lengths];
    for (let k = round.length - 1; k > 0; k -= 1) {
      const other = Math.floor(random() * (k + 1));
      [round[k], round[other]] = [round[other], round[k]];
    }
    if (round.length > 1 && round[0] === order.at(-1)) round.push(round.shift());
    order.push(...round);
  }
  return order.slice(0, putts);
}

/** All putts of a session in order. */
export function sessionPutts(session, seed) {
  return session.blocks.flatMap((block, index) => drawnOrder(block, seed + index).map((asked_m, number) => ({
    block: index, number, asked_m, is_last: number === block.putts - 1,
    beat: block.beat === "on" || (block.beat === "every other putt" && number % 2 === 0),
  })));
}

/** Mean and spread of errors of distance, as shares of what was asked; holed putts are left out. */
export function distanceFigures(putts) {
  const errors = putts.filter((putt) => putt.finish_along_m !== null).map((putt) => putt.finish_along_m / putt.asked_m - 1);
  if (errors.length < 2) return null;
  const mean = errors.reduce((a, b) => a + b, 0) / errors.length;
  const spread = Math.sqrt(errors.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (errors.length - 1));
  return { mean, spread, count: errors.length };
}

/** Share of a beat after the top at which the head passes the ball. */
export function contactShare(station) {
  if (!station) return 0.5;
  const { back_marker_m: back, through_marker_m: through } = station;
  return Math.acos((through - back) / (through + back)) / Math.PI;
}
