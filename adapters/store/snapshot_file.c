/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/snapshot_file.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

#include "core/ledger/plain.h"

#define MAGIC "osier snapshot 1\n"
/* A frame is packed once it is so long. */
#define FRAME_BYTES (256 * 1024)
/* The lowest level: the line is seldom slower than the next one. */
#define LEVEL 1
/* What zlib may add to what cannot be packed, with room to spare. */
#define PACKED_MAX (SNAPSHOT_FRAME_MAX + 64 * 1024)

const CellKind SNAPSHOT_EVENT_KINDS[SNAPSHOT_EVENT_COLUMNS] = {
    CELL_TEXT, CELL_INTEGER, CELL_INTEGER, CELL_INTEGER, CELL_TEXT,  CELL_TEXT,
    CELL_TEXT, CELL_TEXT,    CELL_BYTES,   CELL_TEXT,    CELL_BYTES, CELL_BYTES};

bool snapshot_has_table(TableId table)
{
    return !table_of(table)->local;
}

static int columns_of(TableId table)
{
    return table == TABLE_COUNT ? SNAPSHOT_EVENT_COLUMNS : table_of(table)->columns;
}

static CellKind kind_of(TableId table, int column)
{
    static const CellKind KIND_OF[] = {
        [COLUMN_TEXT] = CELL_TEXT, [COLUMN_INTEGER] = CELL_INTEGER, [COLUMN_REAL] = CELL_REAL};

    return table == TABLE_COUNT ? SNAPSHOT_EVENT_KINDS[column]
                                : KIND_OF[table_of(table)->column[column].type];
}

/* Only these may be absent: base and body of an event, and what is no key. */
static bool may_be_null(TableId table, int column)
{
    return table == TABLE_COUNT ? column == 7 || column == 9 : column >= table_of(table)->keys;
}

static void forget_rows(LastRow *last)
{
    for (int i = 0; i <= TABLE_COUNT; i++)
        last[i].known = false;
}

/* One frame through zlib, one way or the other; false where it does not go through or comes to more than most. */
static bool convert(GConverter *zlib, const GByteArray *from, GByteArray *to, size_t most)
{
    GConverterResult result = G_CONVERTER_CONVERTED;
    size_t at = 0, written = 0;

    g_converter_reset(zlib);
    g_byte_array_set_size(to, (guint)most);
    while (result == G_CONVERTER_CONVERTED && written < most) {
        gsize read = 0, made = 0;
        result = g_converter_convert(zlib, from->data + at, from->len - at, to->data + written,
                                     most - written, G_CONVERTER_INPUT_AT_END, &read, &made, NULL);
        if (result == G_CONVERTER_ERROR) break;
        at += read;
        written += made;
    }
    g_byte_array_set_size(to, (guint)written);
    return result == G_CONVERTER_FINISHED && at == from->len;
}

/* --- writing --- */

static void fail(SnapshotOut *out, const char *why)
{
    if (out->problem == NULL) out->problem = g_strdup(why);
}

static void write_all(SnapshotOut *out, const void *bytes, size_t length)
{
    const uint8_t *at = bytes;

    if (out->problem != NULL) return;
    sha256_update(&out->hash.state, length, at);
    out->length += (int64_t)length;
    while (length > 0) {
        ssize_t written = write(out->file, at, length);
        if (written < 0 && errno == EINTR) continue;
        if (written <= 0) {
            fail(out, g_strerror(errno));
            return;
        }
        at += written;
        length -= (size_t)written;
    }
}

static void write_frame(SnapshotOut *out)
{
    if (out->frame->len > SNAPSHOT_FRAME_MAX ||
        !convert(out->zlib, out->frame, out->packed, PACKED_MAX))
        fail(out, "a row is too large to be carried");
    const uint32_t lengths[] = {GUINT32_TO_BE(out->packed->len), GUINT32_TO_BE(out->frame->len),
                                GUINT32_TO_BE(out->raw->len)};
    write_all(out, lengths, sizeof lengths);
    write_all(out, out->packed->data, out->packed->len);
    write_all(out, out->raw->data, out->raw->len);
    g_byte_array_set_size(out->frame, 0);
    g_byte_array_set_size(out->raw, 0);
    forget_rows(out->last);
}

void snapshot_out_begin(SnapshotOut *out, const char *path, const GByteArray *head)
{
    *out = (SnapshotOut){
        .file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600),
        .frame = g_byte_array_new(),
        .raw = g_byte_array_new(),
        .packed = g_byte_array_new(),
        .zlib = G_CONVERTER(g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB, LEVEL))};
    hash_begin(&out->hash);
    if (out->file < 0) fail(out, g_strerror(errno));
    write_all(out, MAGIC, strlen(MAGIC));
    g_byte_array_append(out->frame, head->data, head->len);
    write_frame(out);
}

static bool is_same(const SnapshotOut *out, const LastRow *last, int column, const Cell *cell)
{
    if (!last->known || last->cell[column].kind != cell->kind) return false;
    const uint8_t *before = out->frame->data + last->cell[column].at;
    size_t length = last->cell[column].length;

    switch (cell->kind) {
    case CELL_TEXT: return length == cell->length && memcmp(before, cell->text, length) == 0;
    case CELL_INTEGER: return memcmp(before, &cell->integer, sizeof cell->integer) == 0;
    case CELL_REAL: return memcmp(before, &cell->real, sizeof cell->real) == 0;
    default: return false;
    }
}

static void put_bytes(SnapshotOut *out, const void *bytes, size_t length)
{
    g_byte_array_append(out->frame, bytes, (guint)length);
}

static uint8_t *put(uint8_t *at, const void *bytes, size_t length)
{
    memcpy(at, bytes, length);
    return at + length;
}

/* Numbers lie in the order of this machine's bytes, which the head says. */
static void put_cell(SnapshotOut *out, LastRow *last, int column, const Cell *cell)
{
    uint8_t kind = (uint8_t)(is_same(out, last, column, cell) ? CELL_SAME : cell->kind);
    uint32_t length = (uint32_t)cell->length, from = out->frame->len;
    size_t most = 1 + sizeof length + sizeof(int64_t) + 1 + (kind == CELL_TEXT ? length : 0);

    g_byte_array_set_size(out->frame, (guint)(from + most));
    uint8_t *at = out->frame->data + from;
    *at++ = kind;
    if (kind == CELL_TEXT || kind == CELL_BYTES) at = put(at, &length, sizeof length);
    if (kind != CELL_SAME) {
        last->cell[column].kind = cell->kind;
        last->cell[column].at = (size_t)(at - out->frame->data);
        last->cell[column].length = cell->length;
    }
    if (kind == CELL_INTEGER) at = put(at, &cell->integer, sizeof cell->integer);
    if (kind == CELL_REAL) at = put(at, &cell->real, sizeof cell->real);
    if (kind == CELL_TEXT) at = put(put(at, cell->text, length), "", 1);
    if (kind == CELL_BYTES) g_byte_array_append(out->raw, (const guint8 *)cell->text, length);
    out->frame->len = (guint)(at - out->frame->data);
}

void snapshot_out_row(SnapshotOut *out, TableId table, const Cell *cells, int count)
{
    LastRow *last = &out->last[table];
    uint8_t tag = table == TABLE_COUNT ? 0 : (uint8_t)(table + 1);

    if (out->problem != NULL) return;
    put_bytes(out, &tag, 1);
    for (int i = 0; i < count; i++)
        put_cell(out, last, i, &cells[i]);
    last->known = true;
    if (out->frame->len >= FRAME_BYTES) write_frame(out);
}

char *snapshot_out_end(SnapshotOut *out, uint8_t digest[HASH_BYTES])
{
    if (out->frame->len > 0) write_frame(out);
    const uint32_t nothing[] = {0, 0, 0};
    write_all(out, nothing, sizeof nothing);
    hash_end(&out->hash, digest);
    if (out->file >= 0 && close(out->file) != 0) fail(out, g_strerror(errno));
    g_byte_array_unref(out->frame);
    g_byte_array_unref(out->raw);
    g_byte_array_unref(out->packed);
    g_object_unref(out->zlib);
    return g_steal_pointer(&out->problem);
}

/* --- reading --- */

/* Exactly so many bytes. */
static bool read_all(SnapshotIn *in, void *bytes, size_t length)
{
    uint8_t *at = bytes;

    while (length > 0) {
        ssize_t got = read(in->file, at, length);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) return false;
        at += got;
        length -= (size_t)got;
    }
    return true;
}

static bool read_frame(SnapshotIn *in)
{
    uint32_t lengths[3];
    char beyond;

    in->at = in->raw_at = 0;
    forget_rows(in->last);
    if (!read_all(in, lengths, sizeof lengths)) return false;
    size_t packed = GUINT32_FROM_BE(lengths[0]), unfolded = GUINT32_FROM_BE(lengths[1]);
    size_t raw = GUINT32_FROM_BE(lengths[2]);
    if (packed == 0 && unfolded == 0 && raw == 0) {
        in->ended = true;
        return read(in->file, &beyond, 1) == 0;
    }
    if (packed > PACKED_MAX || unfolded == 0 || unfolded > SNAPSHOT_FRAME_MAX ||
        raw > SNAPSHOT_FRAME_MAX)
        return false;
    g_byte_array_set_size(in->packed, (guint)packed);
    g_byte_array_set_size(in->raw, (guint)raw);
    if (!read_all(in, in->packed->data, packed) || !read_all(in, in->raw->data, raw)) return false;
    /* one byte more than it says is too much */
    return convert(in->zlib, in->packed, in->frame, unfolded + 1) && in->frame->len == unfolded;
}

const GByteArray *snapshot_in_begin(SnapshotIn *in, const char *path)
{
    char magic[sizeof MAGIC - 1];

    *in = (SnapshotIn){.file = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW),
                       .frame = g_byte_array_new(),
                       .raw = g_byte_array_new(),
                       .packed = g_byte_array_new(),
                       .zlib = G_CONVERTER(g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB))};
    in->broken = in->file < 0 || !read_all(in, magic, sizeof magic) ||
                 memcmp(magic, MAGIC, sizeof magic) != 0 || !read_frame(in) || in->ended;
    in->at = in->frame->len;
    in->raw_at = in->raw->len;
    return in->broken ? NULL : in->frame;
}

static bool take_bytes(SnapshotIn *in, void *bytes, size_t length)
{
    if (in->frame->len - in->at < length) return false;
    memcpy(bytes, in->frame->data + in->at, length);
    in->at += length;
    return true;
}

/* Valid UTF-8 without NUL, and a NUL behind it. */
static bool is_text(const SnapshotIn *in, size_t length)
{
    const char *text = (const char *)in->frame->data + in->at;

    return in->frame->len - in->at > length && text[length] == '\0' && plain_is_text(text, length);
}

static bool is_real(const SnapshotIn *in)
{
    double real;

    memcpy(&real, in->frame->data + in->at, sizeof real);
    return isfinite(real);
}

static bool take_length(SnapshotIn *in, CellKind kind, size_t *length)
{
    uint32_t told = sizeof(int64_t);

    if ((kind == CELL_TEXT || kind == CELL_BYTES) && !take_bytes(in, &told, sizeof told))
        return false;
    *length = told;
    if (kind == CELL_BYTES) return in->raw->len - in->raw_at >= told;
    return in->frame->len - in->at >= told && (kind != CELL_TEXT || is_text(in, told));
}

/* Notes where the cell lies. */
static bool take_place(SnapshotIn *in, TableId table, int column)
{
    LastRow *last = &in->last[table];
    uint8_t kind;

    if (!take_bytes(in, &kind, 1)) return false;
    if (kind == CELL_SAME) return last->known && last->cell[column].kind != CELL_NULL;
    last->cell[column].kind = (CellKind)kind;
    if (kind == CELL_NULL) return may_be_null(table, column);
    if (kind != kind_of(table, column)) return false;
    if (!take_length(in, (CellKind)kind, &last->cell[column].length)) return false;
    if (kind == CELL_BYTES) {
        last->cell[column].at = in->raw_at;
        in->raw_at += last->cell[column].length;
        return true;
    }
    last->cell[column].at = in->at;
    if (kind == CELL_REAL && !is_real(in)) return false;
    in->at += last->cell[column].length + (kind == CELL_TEXT ? 1 : 0);
    return true;
}

static void lend_cell(const SnapshotIn *in, TableId table, int column, Cell *cell)
{
    CellKind kind = in->last[table].cell[column].kind;
    const GByteArray *part = kind == CELL_BYTES ? in->raw : in->frame;
    const uint8_t *at = part->data + in->last[table].cell[column].at;

    *cell = (Cell){.kind = kind};
    if (cell->kind == CELL_INTEGER) memcpy(&cell->integer, at, sizeof cell->integer);
    if (cell->kind == CELL_REAL) memcpy(&cell->real, at, sizeof cell->real);
    if (cell->kind != CELL_TEXT && cell->kind != CELL_BYTES) return;
    cell->text = (const char *)at;
    cell->length = in->last[table].cell[column].length;
}

static bool take_row(SnapshotIn *in, TableId *table, Cell *cells)
{
    uint8_t tag;

    if (!take_bytes(in, &tag, 1) || tag > TABLE_COUNT) return false;
    *table = tag == 0 ? TABLE_COUNT : (TableId)(tag - 1);
    if (tag != 0 && !snapshot_has_table(*table)) return false;
    int columns = columns_of(*table);
    for (int i = 0; i < columns; i++)
        if (!take_place(in, *table, i)) return false;
    in->last[*table].known = true;
    for (int i = 0; i < columns; i++)
        lend_cell(in, *table, i, &cells[i]);
    return true;
}

bool snapshot_in_row(SnapshotIn *in, TableId *table, Cell *cells)
{
    if (!in->broken && !in->ended && in->at == in->frame->len) in->broken = !read_frame(in);
    if (in->broken || in->ended) return false;
    in->broken = !take_row(in, table, cells);
    return !in->broken;
}

void snapshot_in_end(SnapshotIn *in)
{
    if (in->file >= 0) close(in->file);
    g_byte_array_unref(in->frame);
    g_byte_array_unref(in->raw);
    g_byte_array_unref(in->packed);
    g_object_unref(in->zlib);
}
