"""Memory that compiled functions read by its address: a named tuple is one pointer, a table two words.

Handing a big named tuple of arrays to a function would copy all of it and count a reference for every array;
here nothing is copied or counted. Whoever calls keeps the `Blob` alive meanwhile. No index is checked: tests
run the same functions plain, on tables that are (`tests/sim/study/test_session.py`).
"""
# numba's typing and lowering hooks come without types
# mypy: disable-error-code="misc,untyped-decorator,no-untyped-call,no-any-return,override,call-arg"

from __future__ import annotations

import hashlib
import operator
from typing import Any

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.core.typing.templates import AbstractTemplate, AttributeTemplate, infer_global, signature
from numba.extending import (
    NativeValue,
    infer_getattr,
    intrinsic,
    lower_builtin,
    lower_getattr_generic,
    models,
    overload,
    register_model,
    typeof_impl,
    unbox,
)
from numba.np import numpy_support

WORD = 8
"""Bytes of a number; a table takes two words, its address and its length."""

_POINTER = ir.IntType(8).as_pointer()
_WORD = ir.IntType(64)


class BlobType(types.Type):
    """A pointer to a named tuple's memory; `fields` are (name, what, offset)."""

    def __init__(self, title: str, fields: tuple[tuple[str, Any, int], ...]) -> None:
        self.title = title
        self.fields = fields
        super().__init__(name=f"Blob({title}: {fields})")
        self._hash = int.from_bytes(hashlib.sha256(self.name.encode()).digest()[:7], "little")

    def __hash__(self) -> int:
        """Be found quickly: numba asks at every call from outside.

        It travels with what is kept on the disk, so it is the same in every process, as no hash of a text is.
        """
        return self._hash

    def __eq__(self, other: object) -> bool:
        """Be the same as another of the same fields."""
        return self is other or (isinstance(other, BlobType) and self.key == other.key)

    @property
    def key(self) -> Any:
        """What makes two of them one."""
        return self.title, self.fields

    def field(self, name: str) -> tuple[Any, int] | None:
        """Give a field's type and offset."""
        return next(((what, offset) for each, what, offset in self.fields if each == name), None)


class TableType(types.Type):
    """A pointer to numbers or records, and how many.

    Args:
        dtype: what they are.
        home: whose they are: what is written into one table changes none of another home.
        fixed: whether none of them ever changes.

    """

    def __init__(self, dtype: Any, home: str, *, fixed: bool) -> None:
        self.dtype, self.home, self.fixed = dtype, home, fixed
        super().__init__(name=f"{'Fixed' if fixed else 'Table'}({home}: {dtype})")

    @property
    def key(self) -> Any:
        """What makes two of them one."""
        return self.dtype, self.home, self.fixed


@register_model(BlobType)
class _BlobModel(models.PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, _POINTER)


@register_model(TableType)
class _TableModel(models.StructModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, [("data", types.voidptr), ("size", types.intp)])


class Blob:
    """A named tuple's memory.

    Args:
        value: the named tuple.
        fixed: whether what its tables hold never changes while compiled functions run.

    Attributes:
        address: where it is.
        kept: the arrays it points to, by field; nested ones by their own names.

    """

    def __init__(self, value: Any, *, fixed: bool = False) -> None:
        self._title, self._fixed = type(value).__name__, fixed
        self.kept: dict[str, Any] = {}
        self._memory = np.zeros(0, np.uint8)
        fields: list[tuple[str, Any, int]] = []
        words: list[int] = []
        for name in value._fields:
            what, made = self._put(name, getattr(value, name))
            fields.append((name, what, WORD * len(words)))
            words += made
        self._memory = np.array(words, np.uint64)
        self.address = int(self._memory.ctypes.data)
        self.type = BlobType(self._title, tuple(fields))

    def _put(self, name: str, value: Any) -> tuple[Any, list[int]]:
        if isinstance(value, np.ndarray):
            self.kept[name] = value
            home = f"{self._title}.{name}"
            what = TableType(numpy_support.from_dtype(value.dtype), home, fixed=self._fixed)
            return what, [value.ctypes.data, len(value)]
        if hasattr(value, "_fields"):
            inner = self.kept[name] = Blob(value, fixed=self._fixed)
            return inner.type, [inner.address]
        if isinstance(value, bool | np.bool_):
            return types.boolean, [int(value)]
        if isinstance(value, int | np.integer):
            return types.int64, [int(value) & (1 << 64) - 1]
        return types.float64, [int(np.array([value], np.float64).view(np.uint64)[0])]

    def __getattr__(self, name: str) -> Any:
        try:
            return self.__dict__["kept"][name]
        except KeyError:
            raise AttributeError(name) from None


@typeof_impl.register(Blob)
def _typeof(value: Blob, _: Any) -> BlobType:
    return value.type


@unbox(BlobType)
def _unbox(_: Any, obj: Any, context: Any) -> NativeValue:
    address = context.pyapi.object_getattr_string(obj, "address")
    number = context.pyapi.long_as_longlong(address)
    context.pyapi.decref(address)
    return NativeValue(context.builder.inttoptr(number, _POINTER))


@infer_getattr
class _BlobFields(AttributeTemplate):
    key = BlobType

    def generic_resolve(self, typ: BlobType, name: str) -> Any:
        found = typ.field(name)
        return None if found is None else found[0]


def _lasting(builder: Any, at: Any) -> Any:
    """Load what never changes: it need not be loaded again after something else was stored."""
    loaded = builder.load(at)
    loaded.set_metadata("invariant.load", builder.module.add_metadata([]))
    return loaded


def _blob(builder: Any, at: Any, what: BlobType) -> Any:
    """Load a pointer to a named tuple's memory, which is there, whatever is asked of it and when."""
    loaded = _lasting(builder, builder.bitcast(at, _POINTER.as_pointer()))
    size = what.fields[-1][2] + WORD
    loaded.set_metadata("dereferenceable", builder.module.add_metadata([_WORD(size)]))
    return loaded


def _own(builder: Any, access: Any, table: TableType) -> Any:
    """Say of a load or store that it is of one table's numbers, and of no other's."""
    module = builder.module
    root = module.add_metadata([ir.MetaDataString(module, "kerblight")])
    home = module.add_metadata([ir.MetaDataString(module, table.home), root, _WORD(0)])
    access.set_metadata("tbaa", module.add_metadata([home, home, _WORD(0)]))
    return access


@lower_getattr_generic(BlobType)
def _field(context: Any, builder: Any, typ: BlobType, value: Any, name: str) -> Any:
    found = typ.field(name)
    assert found is not None  # noqa: S101 - typing found it
    what, offset = found
    at = builder.gep(value, [_WORD(offset)])
    if isinstance(what, TableType):
        words = builder.bitcast(at, _POINTER.as_pointer())
        made = cgutils.create_struct_proxy(what)(context, builder)
        made.data = _lasting(builder, words)
        made.size = _lasting(builder, builder.bitcast(builder.gep(at, [_WORD(WORD)]), _WORD.as_pointer()))
        return made._getvalue()  # noqa: SLF001 - numba's own way
    if isinstance(what, BlobType):
        return _blob(builder, at, what)
    if what is types.float64:
        return _lasting(builder, builder.bitcast(at, ir.DoubleType().as_pointer()))
    word = _lasting(builder, builder.bitcast(at, _WORD.as_pointer()))
    return builder.trunc(word, ir.IntType(1)) if what is types.boolean else word


def _element(context: Any, builder: Any, typ: TableType, table: Any, index: Any) -> Any:
    """Give the address of an element, as its own type's pointer."""
    made = cgutils.create_struct_proxy(typ)(context, builder, table)
    size = context.get_abi_sizeof(context.get_data_type(typ.dtype))
    at = builder.gep(made.data, [builder.mul(index, _WORD(size))])
    return builder.bitcast(at, context.get_data_type(typ.dtype).as_pointer())


@infer_global(operator.getitem)
class _Get(AbstractTemplate):
    def generic(self, args: Any, kws: Any) -> Any:
        del kws
        if isinstance(args[0], TableType) and isinstance(args[1], types.Integer):
            return signature(args[0].dtype, args[0], types.intp)
        return None


@lower_builtin(operator.getitem, TableType, types.Integer)
def _get(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    at = _element(context, builder, sig.args[0], *args)
    if isinstance(sig.return_type, types.Record):
        return at
    if sig.args[0].fixed:
        return _lasting(builder, at)
    return _own(builder, builder.load(at), sig.args[0])


@infer_global(operator.setitem)
class _Set(AbstractTemplate):
    def generic(self, args: Any, kws: Any) -> Any:
        del kws
        if isinstance(args[0], TableType) and isinstance(args[1], types.Integer):
            return signature(types.none, args[0], types.intp, args[0].dtype)
        return None


@lower_builtin(operator.setitem, TableType, types.Integer, types.Any)
def _set(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    at = _element(context, builder, sig.args[0], args[0], args[1])
    _own(builder, builder.store(args[2], at), sig.args[0])
    return context.get_dummy_value()


@intrinsic
def _length(_: Any, table: Any) -> Any:
    """Give how many a table holds."""

    def made(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return cgutils.create_struct_proxy(sig.args[0])(context, builder, args[0]).size

    return types.intp(table), made


@overload(len)
def _len(table: Any) -> Any:
    if not isinstance(table, TableType):
        return None

    def made(table: Any) -> Any:
        return _length(table)

    return made


@overload(operator.contains)
def _contains(table: Any, value: Any) -> Any:  # noqa: ARG001 - its name counts
    if not isinstance(table, TableType):
        return None

    def made(table: Any, value: Any) -> bool:
        for number in range(len(table)):  # noqa: SIM110 - compiled
            if table[number] == value:
                return True
        return False

    return made
