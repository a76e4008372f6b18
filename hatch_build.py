"""Build hook: the page is built into the package, with Node fetched only when it is needed."""

import importlib.util
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

_spec = importlib.util.spec_from_file_location(
    "pw_webclient", Path(__file__).with_name("tools") / "webclient.py"
)
assert _spec is not None
assert _spec.loader is not None
webclient = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(webclient)


class CustomBuildHook(BuildHookInterface):  # type: ignore[type-arg]
    """Ask for Node only if the built page is absent or stale, then build it."""

    def dependencies(self) -> list[str]:
        """Extra build requirements (asked by pip first)."""
        return [webclient.NODE_WHEEL] if webclient.needs_node_wheel() else []

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the page if its sources changed; put the demo's example into the wheel."""
        if self.target_name == "wheel" and version != "editable":
            build_data["force_include"][str(Path(self.root) / "examples")] = "platewright/demo_files/examples"
        if webclient.stale():
            webclient.build()
