// What the report's 3D view uses of three.js; build.sh bundles it as the global THREE.
export {
  AmbientLight, BoxGeometry, BufferGeometry, Color, ConeGeometry, CylinderGeometry, DirectionalLight, DoubleSide,
  EdgesGeometry, ExtrudeGeometry, Float32BufferAttribute, Group, HemisphereLight, InstancedMesh, LineBasicMaterial,
  LineDashedMaterial, LineSegments, Matrix4, Mesh, MeshBasicMaterial, MeshLambertMaterial, MOUSE,
  OrthographicCamera, Quaternion, Raycaster, Scene, Shape, ShapeGeometry, SphereGeometry, TorusGeometry, Vector2, Vector3,
  WebGLRenderer, Box3, Sphere,
} from "three";
export { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
