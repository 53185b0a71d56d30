"""The front loads into any interpreter from 3.9 on, without gRPC."""

import ast
import os
import subprocess
import sys
import unittest

import scantling_kit

PACKAGE = os.path.dirname(os.path.abspath(scantling_kit.__file__))

# Stands in the way of everything that is not of the standard library, as in a host's own interpreter.
ALONE = """
import sys
class Nothing:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in ("grpc", "google", "numpy"):
            raise ImportError(name + " was asked for")
sys.meta_path.insert(0, Nothing())
import scantling_kit, scantling_kit.hosts.dict_host, scantling_kit.hosts.gltf_host
outside = {name.split(".")[0] for name in sys.modules} - set(sys.stdlib_module_names)
outside -= {"scantling_kit", "__main__"}
print(sorted(name for name in outside if not name.startswith("_") and name != "sitecustomize"))
"""


def sources():
    for folder, _, names in os.walk(PACKAGE):
        for name in sorted(names):
            if name.endswith(".py"):
                yield os.path.join(folder, name)


class Loading(unittest.TestCase):

    def test_nothing_but_the_standard_library_is_loaded(self):
        self.assertTrue(hasattr(sys, "stdlib_module_names"), "this test needs Python 3.10")
        ran = subprocess.run([sys.executable, "-S", "-c", ALONE],
                             env=dict(os.environ, PYTHONPATH=os.path.dirname(PACKAGE)), capture_output=True,
                             text=True, check=False)
        self.assertEqual((ran.returncode, ran.stdout.strip()), (0, "[]"), ran.stderr)

    def test_only_the_helper_names_grpc(self):
        for path in sources():
            with open(path, encoding="utf-8") as stream:
                tree = ast.parse(stream.read())
            named = {alias.name.split(".")[0] for node in ast.walk(tree) if isinstance(node, ast.Import)
                     for alias in node.names}
            named |= {node.module.split(".")[0] for node in ast.walk(tree)
                      if isinstance(node, ast.ImportFrom) and node.level == 0}
            if os.sep + "helper" + os.sep not in path:
                self.assertFalse(named & {"grpc", "google"}, path)

    def test_every_file_is_python_3_9(self):
        found = 0
        for path in sources():
            with open(path, encoding="utf-8") as stream:
                ast.parse(stream.read(), path, feature_version=(3, 9))
            found += 1
        self.assertGreater(found, 15)

    def test_everything_public_says_what_it_is(self):
        for path in sources():
            with open(path, encoding="utf-8") as stream:
                tree = ast.parse(stream.read())
            self.assertTrue(ast.get_docstring(tree), path)
            for node in tree.body:
                if isinstance(node, (ast.ClassDef, ast.FunctionDef)) and not node.name.startswith("_"):
                    self.assertTrue(ast.get_docstring(node), f"{path}: {node.name}")


if __name__ == "__main__":
    unittest.main()
