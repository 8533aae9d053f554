// A view in three dimensions: drawn only when something changed, turned by pointer or keys.

import { make } from "./dom.js";
import { DirectionalLight, HemisphereLight, OrbitControls, OrthographicCamera, Scene, Vector3, WebGLRenderer } from "./vendor/three.js";

const TURN = Math.PI / 24;

/** A colour of the screen (sRGB, 0 to 1) as the linear light that vertex colours want. */
export function linear(rgb) {
  return rgb.map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
}

export class View {
  constructor(host) {
    this.keys = "Arrow keys turn it, plus and minus bring it nearer, 0 puts it back.";
    this.canvas = make("canvas", { tabindex: "0", role: "img" });
    host.append(this.canvas, make("p", { class: "keys" }, `Drag to turn. ${this.keys}`));
    this.host = host;
    this.scene = new Scene();
    this.camera = new OrthographicCamera();
    this.camera.up.set(0, 0, 1);
    try {
      this.renderer = new WebGLRenderer({ canvas: this.canvas, antialias: devicePixelRatio < 1.5, alpha: true });
    } catch {
      this.canvas.replaceWith(make("p", { class: "waiting" }, "This browser shows nothing in three dimensions."));
      return;
    }
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.lights = [new HemisphereLight(0xffffff, 0xb8b4a8, 2.2), new DirectionalLight(0xffffff, 1.4)];
    this.orbit = new OrbitControls(this.camera, this.canvas);
    this.orbit.enableDamping = false;
    this.orbit.enableZoom = false; // the wheel scrolls the page; keys and pinching bring it nearer
    this.orbit.addEventListener("change", () => this.later());
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.size()).observe(host);
    this.clear();
  }

  /** Take all out but the lights. */
  clear() {
    this.scene.traverse((thing) => {
      thing.geometry?.dispose();
      thing.material?.dispose();
    });
    this.scene.clear();
    if (this.lights) this.scene.add(...this.lights);
  }

  /** Look at a box from `low` to `high`; the way it is turned stays once it was chosen. */
  frame(low, high) {
    this.low = new Vector3(...low);
    this.high = new Vector3(...high);
    if (!this.framed) this.home();
    this.framed = true;
    this.size();
  }

  home() {
    const centre = this.low.clone().add(this.high).multiplyScalar(0.5);
    const far = this.high.distanceTo(this.low) * 2;
    this.orbit?.target.copy(centre);
    this.camera.position.copy(centre).add(new Vector3(-0.42, -1, 0.5).normalize().multiplyScalar(far));
    this.camera.near = 0;
    this.camera.far = 2 * far;
    this.camera.zoom = 1;
  }

  size() {
    if (!this.renderer || !this.low) return;
    const width = Math.max(this.host.clientWidth, 120);
    const height = Math.round(Math.min(Math.max(width * 0.42, 180), 520));
    this.canvas.style.height = `${height}px`;
    this.renderer.setSize(width, height, false);
    this.orbit.update();
    this.camera.updateMatrixWorld();
    const spread = this.spread();
    const reach = Math.max(spread.x / width, spread.y / height) * 1.12;
    Object.assign(this.camera, { left: -width * reach, right: width * reach, top: height * reach, bottom: -height * reach });
    this.camera.updateProjectionMatrix();
    this.later();
  }

  /** Half the extent of the box on the screen, in mm. */
  spread() {
    const inverse = this.camera.matrixWorldInverse.copy(this.camera.matrixWorld).invert();
    const most = new Vector3();
    const centre = this.orbit.target.clone().applyMatrix4(inverse);
    for (let i = 0; i < 8; i++) {
      const corner = new Vector3(...["x", "y", "z"].map((k, j) => (i & (1 << j) ? this.high : this.low)[k])).applyMatrix4(inverse).sub(centre);
      most.x = Math.max(most.x, Math.abs(corner.x));
      most.y = Math.max(most.y, Math.abs(corner.y));
    }
    return most;
  }

  key(event) {
    const turn = { ArrowLeft: [-TURN, 0], ArrowRight: [TURN, 0], ArrowUp: [0, -TURN], ArrowDown: [0, TURN] }[event.key];
    if (turn) this.rotate(...turn);
    else if (event.key === "+" || event.key === "=") this.camera.zoom *= 1.2;
    else if (event.key === "-") this.camera.zoom /= 1.2;
    else if (event.key === "0") this.home();
    else return;
    event.preventDefault();
    this.camera.updateProjectionMatrix();
    this.size();
  }

  rotate(round, up) {
    const arm = this.camera.position.clone().sub(this.orbit.target);
    const far = arm.length();
    const azimuth = Math.atan2(arm.y, arm.x) + round;
    const height = Math.min(Math.max(Math.acos(arm.z / far) + up, 0.05), Math.PI - 0.05);
    arm.set(Math.sin(height) * Math.cos(azimuth), Math.sin(height) * Math.sin(azimuth), Math.cos(height)).multiplyScalar(far);
    this.camera.position.copy(this.orbit.target).add(arm);
    this.camera.lookAt(this.orbit.target);
  }

  /** Draw at the next frame, once. */
  later() {
    if (this.waiting || !this.renderer) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.lights[1].position.copy(this.camera.position);
      this.renderer.render(this.scene, this.camera);
      this.canvas.dataset.drawn = String(Number(this.canvas.dataset.drawn ?? 0) + 1);
    });
  }
}
