/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a language pack; one that is taken can be read by. */
#include <string.h>

#include "core/talk/pack.h"
#include "core/talk/reading.h"
#include "tests/fuzz/paper.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static bool read_pack(json_t *tree, Faults *faults)
{
    static const char *const REPLIES[] = {"done 4 no pain", "D 3 P0", "chest pain since 8:30",
                                          "stop", "not today, it hurt a 7/10"};
    g_autoptr(Pack) pack = pack_read(tree, faults);
    const Pack *packs[] = {pack};

    for (size_t i = 0; pack != NULL && i < G_N_ELEMENTS(REPLIES); i++)
        reading_free(reply_read(packs, 1, REPLIES[i], strlen(REPLIES[i])));
    return pack != NULL;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    paper_try(data, size, read_pack);
    return 0;
}
