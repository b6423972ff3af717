"""How far figures of a static field are off because of the mesh."""
