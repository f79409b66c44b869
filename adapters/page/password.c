/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/page/password.h"

#include <glib.h>
#include <sodium.h>
#include <string.h>

/* Three passes over 64 MiB: what RFC 9106 section 4 recommends where memory is short (from memory),
 * but for its four lanes: libsodium has one. */
enum { PASSES = 3, MEMORY_BYTES = 64 * 1024 * 1024, TOKEN_BYTES = 16, HASH_BYTES = 32 };

/* Of no password: what an unknown name is held against. */
static const char NOBODY[] = "$argon2id$v=19$m=65536,t=3,p=1$AAAAAAAAAAAAAAAAAAAAAA"
                             "$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

void password_start(void)
{
    if (sodium_init() < 0) g_error("libsodium: no randomness on this system");
}

char *password_hash(const char *password)
{
    char hash[crypto_pwhash_STRBYTES];

    if (crypto_pwhash_str_alg(hash, password, strlen(password), PASSES, MEMORY_BYTES,
                              crypto_pwhash_ALG_ARGON2ID13) != 0)
        return NULL;
    return g_strdup(hash);
}

bool password_matches(const char *hash, const char *password)
{
    bool good =
        crypto_pwhash_str_verify(hash != NULL ? hash : NOBODY, password, strlen(password)) == 0;

    return good && hash != NULL;
}

void password_forget(char *password)
{
    if (password == NULL) return;
    sodium_memzero(password, strlen(password));
    g_free(password);
}

char *token_new(void)
{
    unsigned char bytes[TOKEN_BYTES];
    char text[sodium_base64_ENCODED_LEN(TOKEN_BYTES, sodium_base64_VARIANT_URLSAFE_NO_PADDING)];

    randombytes_buf(bytes, sizeof bytes);
    sodium_bin2base64(text, sizeof text, bytes, sizeof bytes,
                      sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    return g_strdup(text);
}

char *token_hash(const char *token)
{
    unsigned char hash[HASH_BYTES];
    char text[2 * HASH_BYTES + 1];

    crypto_generichash(hash, sizeof hash, (const unsigned char *)token, strlen(token), NULL, 0);
    return g_strdup(sodium_bin2hex(text, sizeof text, hash, sizeof hash));
}

bool token_same(const char *one, const char *other)
{
    size_t length = one != NULL ? strlen(one) : 0;

    return one != NULL && other != NULL && length > 0 && strlen(other) == length &&
           sodium_memcmp(one, other, length) == 0;
}
