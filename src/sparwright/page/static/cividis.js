// The perceptual map cividis (Nuñez, Anderton and Renslow, PLoS ONE 13(7), 2018), every 32nd of its way.

const HEX =
  "00224e00285b002e6a0533711a386f273e6e32436d3b496c434e6c4b546c535a6d5a5f6e61656f686a716f70737676767d7c788482798c8878938e789b9476a39a74aba072b4a76fbcae6cc4b468cdbb63d5c25edec958e7d150f0d846f9e03afee838";
const TABLE = HEX.match(/../g).map((pair) => parseInt(pair, 16) / 255);

/** Colour [r, g, b] of the screen, 0 to 1, for a share from 0 to 1. */
export function cividis(share) {
  const place = Math.min(Math.max(share, 0), 1) * (TABLE.length / 3 - 1);
  const i = Math.min(Math.floor(place), TABLE.length / 3 - 2);
  const rest = place - i;
  return [0, 1, 2].map((k) => TABLE[3 * i + k] * (1 - rest) + TABLE[3 * i + 3 + k] * rest);
}
