/* cycles: a plugin for QEMU that counts what the image `cost` executes between two readings of the system timer, in
 * instructions and in cycles of the core's table of instruction timings.
 *
 * Arguments: mark=ADDRESS (hexadecimal, of the image's function `read_timer`: what is called odd times opens a window,
 * even times closes it), out=FILE (per window: instructions and cycles, 4 bytes each, little-endian), core=m0|m4 and, to look into it, profile=FILE (address, window modulo 3, instructions, cycles, one line an address).
 *
 * Memory without wait states is assumed throughout. Sources of the cycles:
 * M0: Arm DDI 0432C (Cortex-M0 Technical Reference Manual r0p0), table "Cortex-M0 instruction summary", with the
 *     multiplier of one cycle: load or store 2, of N registers 1+N, POP with PC 4+N, BL 4, other branches 3 where taken,
 *     1 where not, MRS, MSR and barriers 4, the rest 1.
 * M3, M4: Arm DDI 0337/0439 (Cortex-M3 and -M4 Technical Reference Manuals), "instruction set summary": load or store 2
 *     (neighbours overlap on the core, which is left out here: an upper bound), of N registers 1+N, taken branches 1+P
 *     with a refill P of 3 (1 to 3: an upper bound), MLA 2, UDIV and SDIV 12 (2 to 12: an upper bound), UMULL and SMULL
 *     5 (M3: 3 to 5; M4: 1), the rest 1.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is used of version 1 of the plugin interface (QEMU 4.2 and later), declared here so that no header is needed. */
typedef uint64_t qemu_plugin_id_t;
struct qemu_plugin_tb;
struct qemu_plugin_insn;
void qemu_plugin_register_vcpu_tb_trans_cb(qemu_plugin_id_t, void (*)(qemu_plugin_id_t, struct qemu_plugin_tb *));
size_t qemu_plugin_tb_n_insns(const struct qemu_plugin_tb *);
struct qemu_plugin_insn *qemu_plugin_tb_get_insn(const struct qemu_plugin_tb *, size_t);
uint64_t qemu_plugin_insn_vaddr(const struct qemu_plugin_insn *);
size_t qemu_plugin_insn_size(const struct qemu_plugin_insn *);
const void *qemu_plugin_insn_data(const struct qemu_plugin_insn *);
void qemu_plugin_register_vcpu_insn_exec_cb(struct qemu_plugin_insn *, void (*)(unsigned, void *), int, void *);
void qemu_plugin_register_atexit_cb(qemu_plugin_id_t, void (*)(qemu_plugin_id_t, void *), void *);
__attribute__((visibility("default"))) int qemu_plugin_version = 1;

enum { FLASH = 1u << 18 };

/* What an instruction costs: without and with the flow leaving it for another place than the next. */
struct timing {
    uint8_t next, taken;
};
struct place {
    uint64_t instructions[3], cycles[3];
    struct timing timing;
    uint8_t size;
};
static struct place places[FLASH / 2];
static bool m4, open_window;
static uint32_t last = UINT32_MAX, mark, windows, counts[2];
static FILE *out, *profile;

static unsigned registers(unsigned list) { return (unsigned)__builtin_popcount(list); }

static struct timing both(unsigned cycles) { return (struct timing){(uint8_t)cycles, (uint8_t)cycles}; }

static struct timing narrow(unsigned h) {
    unsigned refill = m4 ? 3 : 2;
    if ((h & 0xF800) == 0x4800 || (h >= 0x5000 && h < 0xA000)) return both(2);
    if ((h & 0xFE00) == 0xB400) return both(1 + registers(h & 0x1FF));
    if ((h & 0xFE00) == 0xBC00) {
        unsigned n = registers(h & 0x1FF);
        return both((h & 0x100) ? (m4 ? 1 + n + refill : 4 + n) : 1 + n);
    }
    if ((h & 0xF000) == 0xC000) return both(1 + registers(h & 0xFF));
    /* Branches, BX, BLX, CBZ, and MOV or ADD to the program counter. */
    return (struct timing){1, (uint8_t)(1 + refill)};
}

static struct timing wide(unsigned h, unsigned k) {
    if (!m4) return both(4); /* BL, MRS, MSR, barriers: all the wide ones that a Cortex-M0 has */
    if ((h & 0xFE40) == 0xE840) return both(3);                                     /* LDRD, STRD, TBB */
    if ((h & 0xFE40) == 0xE800) return both(1 + registers(k) + ((k & 0x8000) && (h & 0x10) ? 3 : 0));
    if ((h & 0xFE00) == 0xF800) return both(2);                                     /* single load, store */
    if ((h & 0xFF80) == 0xFB00) return both((k & 0xF000) != 0xF000 ? 2 : 1);         /* MLA, MUL */
    if ((h & 0xFFD0) == 0xFB90) return both(12);                                    /* division */
    if ((h & 0xFF80) == 0xFB80) return both(5);                                     /* long products */
    return (struct timing){1, 4};
}

static void settle(uint32_t next) {
    if (last != UINT32_MAX) {
        struct place *at = &places[last];
        unsigned cycles = next == last * 2 + at->size ? at->timing.next : at->timing.taken;
        at->instructions[windows % 3]++;
        at->cycles[windows % 3] += cycles;
        counts[0]++;
        counts[1] += cycles;
    }
}

/* The timer is about to be read: a window opens or closes. */
static void marked(void) {
    if (open_window) {
        if (out) fwrite(counts, 4, 2, out);
        windows++;
    }
    counts[0] = counts[1] = 0;
    open_window = !open_window;
}

static void executed(unsigned cpu, void *data) {
    (void)cpu;
    uint32_t at = (uint32_t)(uintptr_t)data;
    settle(at);
    if (at == mark) marked();
    last = open_window ? at / 2 : UINT32_MAX;
}

static void translated(qemu_plugin_id_t id, struct qemu_plugin_tb *tb) {
    (void)id;
    for (size_t i = 0; i < qemu_plugin_tb_n_insns(tb); i++) {
        struct qemu_plugin_insn *insn = qemu_plugin_tb_get_insn(tb, i);
        uint32_t at = (uint32_t)qemu_plugin_insn_vaddr(insn);
        const uint8_t *b = qemu_plugin_insn_data(insn);
        if (at >= FLASH) {
            fprintf(stderr, "cycles: code at %#x, beyond the flash\n", at);
            exit(1);
        }
        struct place *place = &places[at / 2];
        place->size = (uint8_t)qemu_plugin_insn_size(insn);
        unsigned h = b[0] | b[1] << 8;
        place->timing = place->size == 2 ? narrow(h) : wide(h, b[2] | b[3] << 8);
        qemu_plugin_register_vcpu_insn_exec_cb(insn, executed, 0, (void *)(uintptr_t)at);
    }
}

static void finished(qemu_plugin_id_t id, void *data) {
    (void)id, (void)data;
    for (uint32_t i = 0; profile && i < FLASH / 2; i++)
        for (int w = 0; w < 3; w++)
            if (places[i].instructions[w])
                fprintf(profile, "%u %d %llu %llu\n", i * 2, w, (unsigned long long)places[i].instructions[w],
                        (unsigned long long)places[i].cycles[w]);
    if (profile) fclose(profile);
    if (out) fclose(out);
}

__attribute__((visibility("default"))) int qemu_plugin_install(qemu_plugin_id_t id, const void *info, int argc,
                                                               char **argv) {
    (void)info;
    for (int i = 0; i < argc; i++) {
        if (!strncmp(argv[i], "out=", 4)) out = fopen(argv[i] + 4, "wb");
        else if (!strncmp(argv[i], "profile=", 8)) profile = fopen(argv[i] + 8, "w");
        else if (!strncmp(argv[i], "mark=", 5)) mark = (uint32_t)strtoul(argv[i] + 5, NULL, 16) & ~1u;
        else if (!strcmp(argv[i], "core=m4")) m4 = true;
        else if (strcmp(argv[i], "core=m0")) {
            fprintf(stderr, "cycles: not an argument: %s\n", argv[i]);
            return 1;
        }
    }
    qemu_plugin_register_vcpu_tb_trans_cb(id, translated);
    qemu_plugin_register_atexit_cb(id, finished, NULL);
    return 0;
}
