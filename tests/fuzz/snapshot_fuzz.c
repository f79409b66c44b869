/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a snapshot from another replica: as they came, and as a frame behind a head that can be, so that the rows are reached. What is
 * looked over is refused with a reason, or is what it says. */
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

#include "adapters/store/snapshot_part.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define NOW INT64_C(1772442000000)

static void look_over(const char *path)
{
    const char *why = NULL;
    g_autoptr(SnapshotLook) look = snapshot_look_over(path, NOW, &why);
    g_autoptr(GArray) none = vector_new();

    g_assert((look == NULL) == (why != NULL));
    if (look != NULL) g_assert(vector_ahead(look->vector, none) == look->events);
}

/* The input is a frame: half of it rows, the rest salts and hashes. */
static void write_framed(const char *path, const uint8_t *data, size_t size)
{
    static const uint8_t DIGEST[DIGEST_BYTES];
    g_autoptr(GArray) vector = vector_new();
    g_autoptr(GByteArray) head = g_byte_array_new();
    SnapshotLook look = {.vector = vector, .events = 1};
    uint8_t digest[HASH_BYTES];
    SnapshotOut out;

    vector_add(vector, "0123456789abcdef", 1, DIGEST);
    snapshot_pack_head(head, &look);
    snapshot_out_begin(&out, path, head);
    g_byte_array_append(out.frame, data, (guint)(size / 2));
    g_byte_array_append(out.raw, data + size / 2, (guint)(size - size / 2));
    g_free(snapshot_out_end(&out, digest));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *path = g_strdup_printf("%s/snapshot-fuzz-%d", g_get_tmp_dir(), (int)getpid());

    if (size < 4) return 0;
    g_unlink(path);
    if (data[0] % 2 == 0)
        g_assert(g_file_set_contents(path, (const char *)data + 1, (gssize)size - 1, NULL));
    else
        write_framed(path, data + 1, size - 1);
    look_over(path);
    g_unlink(path);
    return 0;
}
