"""Hosts that ship with the kit: dict_host (the template) and gltf_host (a glTF file and a script of
edits)."""
