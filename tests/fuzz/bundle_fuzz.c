/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a bundle on a stick: behind the seal, with the head of one that is for this replica before them or without, and as a
 * sealed file. Nobody finds a signature by chance; what a part holds is read as from a peer whose signature held. */
#define _GNU_SOURCE /* memfd_create */
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "adapters/peer/identity.h"
#include "adapters/peer/parcel.h"
#include "adapters/seal/seal.h"
#include "daemon/cli/bundle_read.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define OURS "0123456789abcdef"
#define PEER "fedcba9876543210"

/* The keys of both, made once. */
typedef struct {
    json_t *status;
    char *seal;
    char *open;
} Keys;

static const Keys *keys_now(void)
{
    static Keys keys;
    char *certificate, *key, *why;

    if (keys.status != NULL) return &keys;
    g_assert(identity_make(&certificate, &key, &why));
    seal_keys(&keys.seal, &keys.open);
    keys.status = json_pack("{s:s, s:[{s:s, s:n, s:s}]}", "replica", OURS, "peers", "replica", PEER,
                            "cut", "certificate", certificate);
    g_free(certificate);
    g_free(key);
    return &keys;
}

static FILE *file_of(const char *head, const uint8_t *data, size_t size)
{
    FILE *file = fdopen(memfd_create("bundle", 0), "w+b");

    g_assert(file != NULL);
    g_assert(fwrite(head, 1, strlen(head), file) == strlen(head));
    g_assert(fwrite(data, 1, size, file) == size && fflush(file) == 0);
    rewind(file);
    return file;
}

/* Bytes as a file in the clear. */
static void read_clear(const char *head, const uint8_t *data, size_t size)
{
    FILE *file = file_of(head, data, size);
    const char *why;
    char from[17];

    g_assert(bundle_judge(file, keys_now()->status, from) != NULL);
    bundle_first(file);
    for (GBytes *part; (part = bundle_next(file)) != NULL;) {
        Parcel *parcel = parcel_unpack(part, &why);
        g_assert((parcel == NULL) == (why != NULL));
        if (parcel != NULL) parcel_free(parcel);
        g_bytes_unref(part);
    }
    fclose(file);
}

/* Bytes as a sealed file, which opens with our key if it opens at all; nothing is left where it did not. */
static void read_sealed(const char *head, const uint8_t *data, size_t size)
{
    FILE *file = file_of(head, data, size);
    g_autofree char *from = g_strdup_printf("/proc/self/fd/%d", fileno(file));
    g_autofree char *to = g_strdup_printf("%s/bundle-fuzz-%d", g_get_tmp_dir(), (int)getpid());
    g_autofree char *problem = seal_open_file(from, to, keys_now()->open);

    g_assert(problem != NULL && strchr(problem, '\n') == NULL);
    g_assert(g_utf8_validate(problem, -1, NULL));
    g_assert(access(to, F_OK) != 0);
    fclose(file);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 1) return 0;
    switch (data[0] % 4) {
    case 0: read_clear("", data + 1, size - 1); break;
    case 1: read_clear(BUNDLE_FIRST_LINE PEER " " OURS "\n", data + 1, size - 1); break;
    case 2: read_sealed("", data + 1, size - 1); break;
    default: read_sealed("osier sealed 1\n", data + 1, size - 1);
    }
    return 0;
}
