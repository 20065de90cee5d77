// Contacts by ear: the detector of signals/clicks.py, block for block and in the same arithmetic.
// Method page: docs/methods/contact-sound.md. Runs in the AudioWorklet, so it touches nothing of the page.

const BANDS_HZ = [[1250, 2500], [2500, 5000], [5000, 10000], [10000, 18000]];
const BLOCKS_A_SECOND = 2000;
const BURST = 6;
const BEFORE = 60;
const LONG_S = 1.0;
const HABIT_S = 5.0;
const MEMORY_S = 1.0;
const MEMORY_STEP = 1.5;
const CALM = -0.7;
const LEAST_RISE = Math.log(5.5);
const HABIT_SDS = 6.0;
const LEAST_BREADTH = Math.log(1.6);
const AFTER = [80, 140];
const SOON_AFTER = [20, 80];
const LEFT_OVER = 0.2;
const BEAT_BLOCKS = 146;
const BEAT_EARLY = 6;
const BEAT_SLACK = 4;
const BEATS_KEPT = 5;
const BEAT_MARGIN = 2.0;
const START_BLOCKS = BURST + BEFORE;
const QUIET_START = 4000;
const DEAD = 100;
const DEAD_REFUSED = 20;
const SEARCH = 10;
const FINE_BEFORE = 12;
const FINE_AFTER = 8;
const LEAST_SD_S = 1e-4;
const QUANTUM = 1.0 / (12.0 * 32768.0 ** 2);
const BUTTERWORTH_Q = [0.5411961001461970, 1.3065629648763766];
const KEPT = 512; // blocks of history: more than anything below looks back

function usableBands(rateHz) {
  const highest = 0.45 * rateHz;
  return BANDS_HZ.map(([low, high]) => [low, Math.min(high, highest)]).filter(([low, high]) => high >= 1.2 * low);
}

/** Four biquads, each [b0, b1, b2, a1, a2, state, state]. */
function bandSections(lowHz, highHz, rateHz) {
  const sections = [];
  for (const [cornerHz, isHighPass] of [[lowHz, true], [highHz, false]]) {
    const angle = 2.0 * Math.PI * cornerHz / rateHz;
    const cosine = Math.cos(angle);
    for (const q of BUTTERWORTH_Q) {
      const alpha = Math.sin(angle) / (2.0 * q);
      const middle = isHighPass ? -(1.0 + cosine) : 1.0 - cosine;
      const outer = Math.abs(middle) / 2.0;
      const a0 = 1.0 + alpha;
      sections.push(new Float64Array([outer / a0, middle / a0, outer / a0, -2.0 * cosine / a0, (1.0 - alpha) / a0, 0, 0]));
    }
  }
  return sections;
}

const ringIndex = (block) => ((block % KEPT) + KEPT) % KEPT;

/** push(samples) returns [{time_s, sd_s, strength_db}]; finish() what is left, as if silence followed. */
export class ClickDetector {
  /** `beats`: [{time_s, tone}] known to sound. */
  constructor(rateHz, beats = [], { remembers = true } = {}) {
    this.rateHz = rateHz;
    this.block = Math.floor(rateHz / BLOCKS_A_SECOND + 0.5);
    const bands = usableBands(rateHz);
    this.count = bands.length;
    this.sections = bands.map(([low, high]) => bandSections(low, high, rateHz));
    const widths = bands.map(([low, high]) => high - low);
    this.floor = widths.map((width) => BURST * this.block * QUANTUM * width / (rateHz / 2.0));
    this.freedom = widths.reduce((a, b) => a + b, 0) * 2.0 / rateHz;
    const rows = (size) => bands.map(() => new Float64Array(size));
    this.filtered = rows(KEPT * this.block);
    this.energy = rows(KEPT);
    this.burst = rows(KEPT);
    this.reference = rows(KEPT);
    this.rise = new Float64Array(KEPT);
    this.threshold = new Float64Array(KEPT);
    this.filled = 0; // samples of the block that is being filled
    this.sums = new Float64Array(this.count);
    this.blocks = 0; // blocks complete
    this.ready = 0; // bursts weighed
    this.scan = remembers ? QUIET_START : START_BLOCKS;
    this.remembers = remembers;
    this.memory = new Float64Array(this.count);
    this.moments = bands.map(() => [0.0, 0.0]);
    this.usual = new Float64Array(this.count);
    this.long = new Float64Array(this.count);
    this.longWeight = 0.0;
    const weight = 1.0 - Math.exp(-1.0 / HABIT_S);
    this.habit = [weight, -0.35 * weight, (0.35 ** 2 + 0.06) * weight];
    this.heard = new Map();
    this.expected = null;
    this.beats = [];
    this.addBeats(beats);
  }

  /** Beats that will sound later than what has been pushed; of two that overlap the first is kept. */
  addBeats(beats) {
    const kept = [];
    let earliest = this.ready - BEAT_BLOCKS + 1;
    for (const beat of [...this.beats, ...beats].sort((a, b) => a.time_s - b.time_s)) {
      const start = this.beatStart(beat);
      if (start >= earliest) {
        kept.push(beat);
        earliest = start + BEAT_BLOCKS;
      }
    }
    if (kept[0] !== this.beats[0]) this.expected = null;
    this.beats = kept;
  }

  /** Forget beats that were announced and will not sound. */
  dropBeatsAfter(timeS) {
    this.beats = this.beats.filter((beat) => beat.time_s <= timeS);
  }

  push(samples) {
    const found = [];
    for (let n = 0; n < samples.length; n += 1) {
      const at = ringIndex(this.blocks) * this.block + this.filled;
      for (let band = 0; band < this.count; band += 1) {
        let y = samples[n];
        for (const s of this.sections[band]) {
          const out = s[0] * y + s[5];
          s[5] = s[1] * y - s[3] * out + s[6];
          s[6] = s[2] * y - s[4] * out;
          y = out;
        }
        this.filtered[band][at] = y;
        this.sums[band] += y * y;
      }
      this.filled += 1;
      if (this.filled === this.block) this.endBlock(found);
    }
    return found;
  }

  finish() {
    return this.push(new Float64Array(this.block * (AFTER[1] + SEARCH + BURST + 1) + this.block));
  }

  endBlock(found) {
    const at = ringIndex(this.blocks);
    for (let band = 0; band < this.count; band += 1) {
      this.energy[band][at] = this.sums[band];
      this.sums[band] = 0.0;
    }
    this.filled = 0;
    this.blocks += 1;
    if (this.blocks >= BURST) this.weigh(this.blocks - BURST);
    this.decide(found);
  }

  /** Rise and threshold of the burst that begins with this block. */
  weigh(block) {
    const at = ringIndex(block);
    const keep = Math.exp(-1.0 / (LONG_S * BLOCKS_A_SECOND));
    for (let band = 0; band < this.count; band += 1) {
      const energy = this.energy[band];
      let burst = energy[at];
      for (let k = 1; k < BURST; k += 1) burst += energy[ringIndex(block + k)];
      this.burst[band][at] = burst;
      let reference = this.usual[band] = Math.max(this.long[band] / Math.max(this.longWeight, 1e-300) * BURST, this.floor[band]);
      for (let k = BURST; k < START_BLOCKS && block - k >= 0; k += 1) {
        reference = Math.max(reference, this.burst[band][ringIndex(block - k)]);
      }
      this.reference[band][at] = reference;
      this.long[band] = (1.0 - keep) * energy[at] + keep * this.long[band];
    }
    this.longWeight = (1.0 - keep) + keep * this.longWeight;
    const isBeat = this.maskBeat(block);
    if (this.remembers) this.remember(block, isBeat);
    let mean = 0.0;
    for (let band = 0; band < this.count; band += 1) mean += this.burst[band][at] / this.reference[band][at];
    this.rise[at] = Math.log(Math.max(mean / this.count, 1e-30));
    this.threshold[at] = this.nextThreshold(this.rise[at]);
    this.ready = block + 1;
  }

  remember(block, isBeat) {
    const at = ringIndex(block);
    const begins = block % BURST === 0;
    const fade = Math.exp(-BURST / (MEMORY_S * BLOCKS_A_SECOND));
    for (let band = 0; band < this.count; band += 1) {
      if (begins) {
        const [now, expected] = this.moments[band];
        this.memory[band] = Math.max(fade * this.memory[band], Math.min(now, MEMORY_STEP * Math.max(this.memory[band], expected)));
      }
      this.reference[band][at] = Math.max(this.reference[band][at], this.memory[band]);
      if (begins) this.moments[band] = [isBeat ? 0.0 : this.burst[band][at], this.usual[band]];
    }
  }

  nextThreshold(rise) {
    const [weight, first, second] = this.habit;
    const mean = first / weight;
    const usual = mean + HABIT_SDS * Math.sqrt(Math.max(second / weight - mean ** 2, 0.0));
    const keep = Math.exp(-1.0 / (HABIT_S * BLOCKS_A_SECOND));
    const tame = Math.min(Math.max(rise, CALM), LEAST_RISE);
    this.habit = [1.0, tame, tame * tame].map((moment, k) => (1.0 - keep) * moment + keep * this.habit[k]);
    return this.remembers ? Math.max(LEAST_RISE, usual) : LEAST_RISE;
  }

  beatStart(beat) {
    return Math.floor(beat.time_s * this.rateHz / this.block) - BEAT_EARLY;
  }

  /** Raise the reference to what a known beat sounds like; learn it once it is over. Is this block in one? */
  maskBeat(block) {
    if (this.beats.length === 0) return false;
    const start = this.beatStart(this.beats[0]);
    if (block < start) return false;
    if (this.expected === null) this.expected = this.expectedOf(this.beats[0].tone);
    const at = ringIndex(block);
    for (let band = 0; band < this.count; band += 1) {
      this.reference[band][at] = Math.max(this.reference[band][at], this.expected[band][block - start]);
    }
    if (block === start + BEAT_BLOCKS - 1) {
      if (start >= 0) this.learn(this.beats[0].tone, start);
      this.beats.shift();
      this.expected = null;
    }
    return true;
  }

  learn(tone, start) {
    const heard = this.heard.get(tone) ?? [];
    heard.push(this.burst.map((row) => Float64Array.from({ length: BEAT_BLOCKS }, (_, k) => row[ringIndex(start + k)])));
    this.heard.set(tone, heard.slice(-BEATS_KEPT));
  }

  expectedOf(tone) {
    const heard = this.heard.get(tone);
    return this.burst.map((_, band) => {
      if (!heard) return new Float64Array(BEAT_BLOCKS).fill(Infinity);
      const usual = Float64Array.from({ length: BEAT_BLOCKS }, (__, k) => median(heard.map((one) => one[band][k])));
      return Float64Array.from({ length: BEAT_BLOCKS }, (__, k) => {
        let most = 0.0;
        for (let j = Math.max(k - BEAT_SLACK, 0); j <= Math.min(k + BEAT_SLACK, BEAT_BLOCKS - 1); j += 1) {
          most = Math.max(most, usual[j]);
        }
        return BEAT_MARGIN * most;
      });
    });
  }

  decide(found) {
    const last = this.blocks - AFTER[1] - SEARCH - BURST;
    while (this.scan <= last) {
      const at = ringIndex(this.scan);
      if (!(this.rise[at] > this.threshold[at])) {
        this.scan += 1;
        continue;
      }
      let peak = this.scan;
      for (let k = 1; k <= SEARCH; k += 1) {
        if (this.rise[ringIndex(this.scan + k)] > this.rise[ringIndex(peak)]) peak = this.scan + k;
      }
      if (this.isBroad(peak) && this.hasDiedAway(peak)) {
        found.push(this.click(peak));
        this.scan = peak + DEAD;
      } else {
        this.scan = peak + DEAD_REFUSED;
      }
    }
  }

  isBroad(peak) {
    if (!this.remembers) return true;
    const at = ringIndex(peak);
    let sum = 0.0;
    for (let band = 0; band < this.count; band += 1) sum += Math.log(Math.max(this.burst[band][at] / this.reference[band][at], 1e-30));
    return sum / this.count > LEAST_BREADTH;
  }

  hasDiedAway(peak) {
    const most = LEFT_OVER * Math.exp(this.rise[ringIndex(peak)]);
    return (this.remembers ? [SOON_AFTER, AFTER] : [AFTER]).every(([from, to]) => this.leftOver(peak, from, to) < most);
  }

  leftOver(peak, from, to) {
    const whitened = [];
    for (let block = peak + from; block < peak + to; block += 1) {
      let sum = 0.0;
      for (let band = 0; band < this.count; band += 1) {
        sum += this.energy[band][ringIndex(block)] * BURST / this.reference[band][ringIndex(peak)];
      }
      whitened.push(sum / this.count);
    }
    return median(whitened);
  }

  click(peak) {
    const low = (peak - FINE_BEFORE) * this.block;
    const size = (FINE_BEFORE + FINE_AFTER) * this.block;
    const ring = KEPT * this.block;
    const power = new Float64Array(size);
    for (let band = 0; band < this.count; band += 1) {
      const scale = this.reference[band][ringIndex(peak)] / (BURST * this.block);
      for (let n = 0; n < size; n += 1) power[n] += this.filtered[band][(low + n) % ring] ** 2 / scale;
    }
    let total = 0.0;
    const before = power.map((value) => (total += value));
    const margin = 2 * this.block;
    const fits = [];
    for (let first = margin; first < size - margin; first += 1) {
      const left = Math.max(before[first - 1], 1e-300);
      const right = Math.max(total - before[first - 1], 1e-300);
      fits.push(-0.5 * this.freedom * (first * Math.log(left / first) + (size - first) * Math.log(right / (size - first))));
    }
    const best = fits.reduce((a, b) => Math.max(a, b));
    const weights = fits.map((fit) => Math.exp(fit - best));
    const all = weights.reduce((a, b) => a + b, 0.0);
    const mean = weights.reduce((sum, weight, k) => sum + weight * (margin + k), 0.0) / all;
    const variance = weights.reduce((sum, weight, k) => sum + weight * (margin + k - mean) ** 2, 0.0) / all;
    return {
      time_s: (low + mean) / this.rateHz,
      sd_s: Math.hypot(Math.sqrt(variance + 1.0 / 12.0) / this.rateHz, LEAST_SD_S),
      strength_db: this.rise[ringIndex(peak)] * 10.0 / Math.log(10.0),
    };
  }
}

function median(values) {
  const sorted = Array.from(values).sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2.0;
}
