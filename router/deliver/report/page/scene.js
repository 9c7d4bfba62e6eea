// What stands in the 3D view, in metres about the middle of the route; equal shapes are drawn at once.
const Palette = {
  kind: { run: '#0072B2', nipple: '#D55E00', arm: '#009E73', drop: '#56B4E9', sprig: '#56B4E9', barrel: '#CC79A7', hose: '#E69F00' },
  list: ['#0072B2', '#E69F00', '#009E73', '#CC79A7', '#56B4E9', '#D55E00', '#F0E442', '#5a5a5a'],
  obstruction: { beam: '#b9b9b9', duct: '#a9cbe2', tray: '#e2cf8f', column: '#8f8f8f', pipe: '#a5cfba' },
  other: '#cccccc', fitting: '#2b2b2b', head: '#1a1a1a', unserved: '#D55E00', hanger: '#777777', pick: '#ff2d95',
};

class Batch {
  // Many copies of one geometry; `things[i]` is what copy i stands for.
  constructor(scene, geometry, material, most) {
    this.mesh = new THREE.InstancedMesh(geometry, material, Math.max(most, 1));
    this.mesh.frustumCulled = false;
    this.mesh.count = 0;
    this.things = [];
    scene.add(this.mesh);
  }

  fill(entries) {
    // entries: [thing, matrix, colour or null]
    this.things = entries.map((e) => e[0]);
    entries.forEach(([, matrix, colour], i) => {
      this.mesh.setMatrixAt(i, matrix);
      if (colour) this.mesh.setColorAt(i, colour);
    });
    this.mesh.count = entries.length;
    this.mesh.instanceMatrix.needsUpdate = true;
    if (this.mesh.instanceColor) this.mesh.instanceColor.needsUpdate = true;
  }

  remove(scene) {
    scene.remove(this.mesh);
    this.mesh.geometry.dispose();
    this.mesh.material.dispose();
    this.mesh.dispose();
  }
}

const Shapes = {
  up: null,

  // A cylinder of radius 1 and height 1 along +y, laid from a to b.
  between(a, b, radius) {
    const from = new THREE.Vector3(...a), way = new THREE.Vector3(...b).sub(from);
    const length = Math.max(way.length(), 1e-6);
    this.up = this.up || new THREE.Vector3(0, 1, 0);
    const turn = new THREE.Quaternion().setFromUnitVectors(this.up, way.clone().divideScalar(length));
    return new THREE.Matrix4().compose(from.addScaledVector(way, 0.5), turn, new THREE.Vector3(radius, length, radius));
  },

  at(place, size) {
    return new THREE.Matrix4().compose(new THREE.Vector3(...place), new THREE.Quaternion(), new THREE.Vector3(size, size, size));
  },

  prism(plan, low, high) {
    const shape = new THREE.Shape(plan.map(([x, y]) => new THREE.Vector2(x, y)));
    const geometry = new THREE.ExtrudeGeometry(shape, { depth: Math.max(high - low, 0.001), bevelEnabled: false });
    geometry.translate(0, 0, low);
    return geometry;
  },
};
