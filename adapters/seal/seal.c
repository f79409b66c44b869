/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/seal/seal.h"

#include <errno.h>
#include <fcntl.h>
#include <glib.h>
#include <glib/gstdio.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define MAGIC "osier sealed 1\n"
#define PUBLIC "osier-seal-"
#define SECRET "osier-open-"
#define STREAM_KEY crypto_secretstream_xchacha20poly1305_KEYBYTES
#define STREAM_HEADER crypto_secretstream_xchacha20poly1305_HEADERBYTES
#define STREAM_MORE crypto_secretstream_xchacha20poly1305_ABYTES
#define BOX (STREAM_KEY + crypto_box_SEALBYTES)

enum { CHUNK = 65536 };

typedef crypto_secretstream_xchacha20poly1305_state Stream;

/* One file into another. */
typedef struct {
    FILE *from;
    FILE *to;
    const char *to_path;
    char *problem;
    unsigned char plain[CHUNK];
    unsigned char sealed[CHUNK + STREAM_MORE];
} Pass;

static bool fail(Pass *pass, const char *why)
{
    if (pass->problem == NULL) pass->problem = g_strdup(why);
    return false;
}

/* --- keys --- */

static void start(void)
{
    if (sodium_init() < 0) g_error("seal: libsodium does not start");
}

static char *key_text(const char *prefix, const unsigned char *key, size_t length)
{
    char text[64];

    sodium_bin2base64(text, sizeof text, key, length, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    return g_strconcat(prefix, text, NULL);
}

static bool key_read(const char *prefix, const char *text, unsigned char key[32])
{
    size_t length = 0;

    if (text == NULL || !g_str_has_prefix(text, prefix)) return false;
    text += strlen(prefix);
    return sodium_base642bin(key, 32, text, strlen(text), NULL, &length, NULL,
                             sodium_base64_VARIANT_URLSAFE_NO_PADDING) == 0 &&
           length == 32;
}

void seal_keys(char **public_key, char **secret_key)
{
    unsigned char public[crypto_box_PUBLICKEYBYTES];
    unsigned char secret[crypto_box_SECRETKEYBYTES];

    start();
    crypto_box_keypair(public, secret);
    *public_key = key_text(PUBLIC, public, sizeof public);
    *secret_key = key_text(SECRET, secret, sizeof secret);
    sodium_memzero(secret, sizeof secret);
}

bool seal_is_key(const char *text)
{
    unsigned char key[32];

    start();
    return key_read(PUBLIC, text, key);
}

/* --- files --- */

static Pass *pass_open(const char *from, const char *to)
{
    Pass *pass = g_new0(Pass, 1);

    start();
    pass->to_path = to;
    pass->from = fopen(from, "rbe");
    if (pass->from == NULL) {
        pass->problem = g_strdup_printf("%s: cannot be read: %s", from, g_strerror(errno));
        return pass;
    }
    int file = open(to, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (file < 0) {
        pass->problem = g_strdup_printf("%s: cannot be made: %s", to, g_strerror(errno));
        return pass;
    }
    pass->to = fdopen(file, "wb");
    return pass;
}

static char *pass_close(Pass *pass)
{
    char *problem;

    if (pass->from != NULL) fclose(pass->from);
    if (pass->to != NULL) {
        bool kept = fflush(pass->to) == 0 && fsync(fileno(pass->to)) == 0;
        if (fclose(pass->to) != 0 || !kept) fail(pass, "cannot be written: the device refuses it");
        if (pass->problem != NULL) g_unlink(pass->to_path);
    }
    problem = pass->problem;
    sodium_memzero(pass, sizeof *pass);
    g_free(pass);
    return problem;
}

static bool put(Pass *pass, const void *bytes, size_t length)
{
    return fwrite(bytes, 1, length, pass->to) == length ||
           fail(pass, "cannot be written: the device refuses it");
}

/* Is there nothing after what was read? */
static bool at_end(FILE *file)
{
    int byte = fgetc(file);

    if (byte != EOF) ungetc(byte, file);
    return byte == EOF;
}

static void seal_all(Pass *pass, const unsigned char public_key[32])
{
    unsigned char key[STREAM_KEY], box[BOX], header[STREAM_HEADER];
    Stream stream;
    bool last = false;

    crypto_secretstream_xchacha20poly1305_keygen(key);
    crypto_box_seal(box, key, sizeof key, public_key);
    crypto_secretstream_xchacha20poly1305_init_push(&stream, header, key);
    sodium_memzero(key, sizeof key);
    if (!put(pass, MAGIC, strlen(MAGIC)) || !put(pass, box, sizeof box) ||
        !put(pass, header, sizeof header))
        return;
    while (!last) {
        size_t n = fread(pass->plain, 1, CHUNK, pass->from);
        unsigned long long length;
        if (ferror(pass->from)) {
            fail(pass, "cannot be read: the device refuses it");
            return;
        }
        last = n < CHUNK || at_end(pass->from);
        crypto_secretstream_xchacha20poly1305_push(
            &stream, pass->sealed, &length, pass->plain, n, NULL, 0,
            last ? crypto_secretstream_xchacha20poly1305_TAG_FINAL : 0);
        if (!put(pass, pass->sealed, (size_t)length)) return;
    }
}

char *seal_file(const char *from, const char *to, const char *public_key)
{
    unsigned char key[32];

    start();
    if (!key_read(PUBLIC, public_key, key))
        return g_strdup_printf("%s: is no key to seal to; it begins with " PUBLIC, public_key);
    Pass *pass = pass_open(from, to);
    if (pass->problem == NULL) seal_all(pass, key);
    return pass_close(pass);
}

static bool read_magic(FILE *file)
{
    char magic[sizeof MAGIC - 1];

    return fread(magic, 1, sizeof magic, file) == sizeof magic &&
           memcmp(magic, MAGIC, sizeof magic) == 0;
}

/* The stream of a sealed file, by the secret key. */
static bool open_stream(Pass *pass, const unsigned char secret[32], Stream *stream)
{
    unsigned char public[32], key[STREAM_KEY], box[BOX], header[STREAM_HEADER];

    if (!read_magic(pass->from)) return fail(pass, "is not a sealed file");
    if (fread(box, 1, sizeof box, pass->from) != sizeof box ||
        fread(header, 1, sizeof header, pass->from) != sizeof header)
        return fail(pass, "is cut off");
    crypto_scalarmult_base(public, secret);
    bool ours = crypto_box_seal_open(key, box, sizeof box, public, secret) == 0;
    bool begun = ours && crypto_secretstream_xchacha20poly1305_init_pull(stream, header, key) == 0;
    sodium_memzero(key, sizeof key);
    return begun || fail(pass, "was sealed to another key, or is changed");
}

static void open_all(Pass *pass, Stream *stream)
{
    unsigned char tag = 0;

    while (tag != crypto_secretstream_xchacha20poly1305_TAG_FINAL) {
        size_t n = fread(pass->sealed, 1, sizeof pass->sealed, pass->from);
        unsigned long long length;
        if (n == 0) {
            fail(pass, "is cut off");
            return;
        }
        if (crypto_secretstream_xchacha20poly1305_pull(stream, pass->plain, &length, &tag,
                                                       pass->sealed, n, NULL, 0) != 0) {
            fail(pass, "is changed or cut off");
            return;
        }
        if (!put(pass, pass->plain, (size_t)length)) return;
    }
    if (!at_end(pass->from)) fail(pass, "has something after its end");
}

char *seal_open_file(const char *from, const char *to, const char *secret_key)
{
    unsigned char key[32];
    Stream stream;

    start();
    if (!key_read(SECRET, secret_key, key))
        return g_strdup("that is no key to open with; it begins with " SECRET);
    Pass *pass = pass_open(from, to);
    if (pass->problem == NULL && open_stream(pass, key, &stream)) open_all(pass, &stream);
    sodium_memzero(key, sizeof key);
    sodium_memzero(&stream, sizeof stream);
    return pass_close(pass);
}

bool seal_is_sealed(const char *path)
{
    FILE *file = fopen(path, "rbe");
    bool sealed = file != NULL && read_magic(file);

    if (file != NULL) fclose(file);
    return sealed;
}

char *seal_keyed_hash(const char *key, const char *text)
{
    unsigned char bytes[32], hash[16];
    char hex[2 * sizeof hash + 1];
    size_t length = 0;

    start();
    bool read = sodium_hex2bin(bytes, sizeof bytes, key, strlen(key), NULL, &length, NULL) == 0;
    g_assert(read && length == sizeof bytes);
    crypto_generichash(hash, sizeof hash, (const unsigned char *)text, strlen(text), bytes,
                       sizeof bytes);
    sodium_memzero(bytes, sizeof bytes);
    sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    return g_strdup(hex);
}
