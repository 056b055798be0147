"""The file of a train that exists: a design file with a table [train], read into what the audit takes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from solver.design.errors import DesignError, single, suggestion
from solver.design.train_data import MeshTrain, RingTrain
from solver.files.load import by_schema
from solver.files.mesh_train import mesh_train
from solver.files.ring_train import ring_train
from solver.files.text import data_of, read_text
from solver.files.train_schema import MeshTrainFile, RingTrainFile


def load_train(path: Path) -> RingTrain | MeshTrain:
    """Read the file of a train that exists. Raises DesignError (a line for each fault) and OSError."""
    return parse_train(read_text(path), str(path))


def parse_train(text: str, name: str = "train") -> RingTrain | MeshTrain:
    """Likewise from TOML text; `name` stands for the file in messages. Raises DesignError."""
    data = data_of(text, name)
    try:
        return _read(data, name)
    except DesignError as fault:
        raise fault.in_file(name) from None


def _read(data: dict[str, Any], name: str) -> RingTrain | MeshTrain:
    table = _train_table(data)
    source = {key: value for key, value in data.items() if key != "train"}
    ring_keys = [key for key in ("rings", "links") if key in table]
    if "meshes" not in table:
        if not ring_keys:
            near = next(filter(None, (suggestion(key, ("meshes", "rings", "links")) for key in table)), "")
            allowed = "needs rings and links, or meshes; [[train.links]] and [[train.meshes]] are lists of tables"
            raise single("train", None, allowed + near)
        return ring_train(by_schema(RingTrainFile, data, name), source, name)
    if ring_keys:
        raise single(f"train.{ring_keys[0]}", None, "a train has rings and links, or meshes, not both")
    for key in ("units", "rings", "arbors", "fit", "drive"):
        if key in data:
            allowed = "does not belong here: of a train of meshes the turns alone are judged, not where it stands"
            raise single(key, None, allowed)
    return mesh_train(by_schema(MeshTrainFile, data, name), name)


def _train_table(data: dict[str, Any]) -> dict[str, Any]:
    table = data.get("train")
    if table is None:
        for key in data:
            if key not in RingTrainFile.model_fields and (near := suggestion(key, ["train"])):
                raise single(key, None, f"unknown key{near}")
        allowed = "is missing: give the train that there is, by rings and [[train.links]] or by [[train.meshes]]"
        raise single("train", None, allowed)
    if not isinstance(table, dict):
        raise single("train", table, "must be a table")
    return table
